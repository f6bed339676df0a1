"""A STEP file by hand for the tests: a block with a round hole from the top, in mm or in inches.

Source  ISO 10303-21 (the text), 10303-42 (geometry), entity names as AP214 has them; from memory
"""

from __future__ import annotations

from itertools import count

_MM = "( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) )"
_CORNERS = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)]
_SIDES = [  # corners counter-clockwise from outside, outward direction
    ((0, 3, 2, 1), (0, 0, -1)),
    ((4, 5, 6, 7), (0, 0, 1)),
    ((0, 1, 5, 4), (0, -1, 0)),
    ((1, 2, 6, 5), (1, 0, 0)),
    ((2, 3, 7, 6), (0, 1, 0)),
    ((3, 0, 4, 7), (-1, 0, 0)),
]


class _Writer:
    def __init__(self) -> None:
        self.lines: list[str] = []
        self._numbers = count(1)

    def add(self, text: str) -> str:
        name = f"#{next(self._numbers)}"
        self.lines.append(f"{name}={text};")
        return name

    def point(self, place) -> str:
        return self.add("CARTESIAN_POINT('',(" + ",".join(f"{float(v)!r}" for v in place) + "))")

    def direction(self, way) -> str:
        return self.add("DIRECTION('',(" + ",".join(f"{float(v)!r}" for v in way) + "))")

    def axes(self, place, way, across) -> str:
        parts = f"{self.point(place)},{self.direction(way)},{self.direction(across)}"
        return self.add(f"AXIS2_PLACEMENT_3D('',{parts})")

    def vertex(self, place) -> str:
        return self.add(f"VERTEX_POINT('',{self.point(place)})")

    def straight(self, start, end, start_vertex: str, end_vertex: str) -> str:
        way = [b - a for a, b in zip(start, end)]
        vector = self.add(f"VECTOR('',{self.direction(way)},1.0)")
        line = self.add(f"LINE('',{self.point(start)},{vector})")
        return self.add(f"EDGE_CURVE('',{start_vertex},{end_vertex},{line},.T.)")

    def circle(self, centre, radius: float, vertex: str) -> str:
        curve = self.add(f"CIRCLE('',{self.axes(centre, (0, 0, 1), (1, 0, 0))},{radius!r})")
        return self.add(f"EDGE_CURVE('',{vertex},{vertex},{curve},.T.)")

    def loop(self, edges, outer: bool) -> str:
        oriented = [self.add(f"ORIENTED_EDGE('',*,*,{edge},{'.T.' if along else '.F.'})") for edge, along in edges]
        ring = self.add(f"EDGE_LOOP('',({','.join(oriented)}))")
        return self.add(f"{'FACE_OUTER_BOUND' if outer else 'FACE_BOUND'}('',{ring},.T.)")

    def face(self, bounds, surface: str, along: str = ".T.") -> str:
        return self.add(f"ADVANCED_FACE('',({','.join(bounds)}),{surface},{along})")


def block_with_hole(size, hole_at, radius: float, depth: float, inches: bool = False) -> str:
    """The text of a block from the origin to ``size`` with a blind hole from the top at ``hole_at`` (x, y)."""
    w = _Writer()
    faces = ",".join(_faces(w, size, hole_at, radius, depth))
    shell = w.add(f"CLOSED_SHELL('',({faces}))")
    body = w.add(f"MANIFOLD_SOLID_BREP('block',{shell})")
    _product(w, body, inches)
    head = "FILE_DESCRIPTION((''),'2;1');\nFILE_NAME('block','',(''),(''),'','','');\n"
    head += "FILE_SCHEMA(('AUTOMOTIVE_DESIGN'));"
    return f"ISO-10303-21;\nHEADER;\n{head}\nENDSEC;\nDATA;\n" + "\n".join(w.lines) + "\nENDSEC;\nEND-ISO-10303-21;\n"


def _faces(w: _Writer, size, hole_at, radius: float, depth: float) -> list[str]:
    places = [tuple(c * s for c, s in zip(corner, size)) for corner in _CORNERS]
    vertices = [w.vertex(place) for place in places]
    edges: dict[tuple[int, int], str] = {}

    def edge(a: int, b: int):
        if (b, a) in edges:
            return edges[b, a], False
        if (a, b) not in edges:
            edges[a, b] = w.straight(places[a], places[b], vertices[a], vertices[b])
        return edges[a, b], True

    x, y = hole_at
    top, bottom = size[2], size[2] - depth
    mouth_place, floor_place = (x + radius, y, top), (x + radius, y, bottom)
    mouth_vertex, floor_vertex = w.vertex(mouth_place), w.vertex(floor_place)
    mouth, floor = w.circle((x, y, top), radius, mouth_vertex), w.circle((x, y, bottom), radius, floor_vertex)
    seam = w.straight(floor_place, mouth_place, floor_vertex, mouth_vertex)
    faces = []
    for ring, way in _SIDES:
        bounds = [w.loop([edge(a, b) for a, b in zip(ring, (*ring[1:], ring[0]))], outer=True)]
        if way == (0, 0, 1):
            bounds.append(w.loop([(mouth, False)], outer=False))
        across = tuple(b - a for a, b in zip(places[ring[0]], places[ring[1]]))
        faces.append(w.face(bounds, w.add(f"PLANE('',{w.axes(places[ring[0]], way, across)})")))
    wall = w.add(f"CYLINDRICAL_SURFACE('',{w.axes((x, y, bottom), (0, 0, 1), (1, 0, 0))},{radius!r})")
    faces.append(
        w.face([w.loop([(floor, False), (seam, True), (mouth, True), (seam, False)], outer=True)], wall, ".F.")
    )
    disc = w.add(f"PLANE('',{w.axes((x, y, bottom), (0, 0, 1), (1, 0, 0))})")
    faces.append(w.face([w.loop([(floor, True)], outer=True)], disc))
    return faces


def _product(w: _Writer, body: str, inches: bool) -> None:
    length = w.add(_MM)
    if inches:
        factor = w.add(f"LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4),{length})")
        exponents = w.add("DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.)")
        length = w.add(f"( CONVERSION_BASED_UNIT('INCH',{factor}) LENGTH_UNIT() NAMED_UNIT({exponents}) )")
    angle = w.add("( NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.) )")
    solid_angle = w.add("( NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT() )")
    doubt = w.add(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-7),{length},'distance_accuracy_value','')")
    context = w.add(
        f"( GEOMETRIC_REPRESENTATION_CONTEXT(3) GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({doubt})) "
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{solid_angle})) REPRESENTATION_CONTEXT('','') )"
    )
    origin = w.axes((0, 0, 0), (0, 0, 1), (1, 0, 0))
    shape = w.add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',({origin},{body}),{context})")
    application = w.add("APPLICATION_CONTEXT('automotive design')")
    product_context = w.add(f"PRODUCT_CONTEXT('',{application},'mechanical')")
    product = w.add(f"PRODUCT('block','block','',({product_context}))")
    formation = w.add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
    design = w.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{application},'design')")
    definition = w.add(f"PRODUCT_DEFINITION('design','',{formation},{design})")
    whole = w.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
    w.add(f"SHAPE_DEFINITION_REPRESENTATION({whole},{shape})")
