"""The year that a job states, as the wood meets it."""

from __future__ import annotations

from witnessmark.job.errors import refuse
from witnessmark.job.models import Season
from witnessmark.wood.season import Climate, Year


def year_of_job(season: Season) -> Year:
    """Refused where the climates are outside of what is known."""
    try:
        year = Year(
            Climate(season.dry_c, season.dry_humidity_pct / 100),
            Climate(season.damp_c, season.damp_humidity_pct / 100),
            season.moisture_pct,
        )
        _ = year.range_pct
    except ValueError as error:
        raise refuse("job.toml, season", str(error), "see its temperatures and humidities") from None
    return year
