# Everything runs in a local virtual environment; nothing is installed outside it.
#   make prove      check the workshop-pit demo site and write its report to out/
#   make test       every check and test (needs the circuit simulator ngspice)
#   make benchmark  how fast the bench and the firmware run on this machine
#   make setup      only make the environment
#   make pictures   renew the pictures of README.md (the matrix needs chromium)
#   make lock       renew the lock files after pyproject.toml changed
#   make clean      remove the environment, reports and caches

PYTHON ?= python3
WORKERS ?= 2
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet
UV_COMPILE := $(BIN)/uv pip compile --quiet --universal --python-version 3.11 \
	--fork-strategy fewest --generate-hashes --no-header --no-annotate

.PHONY: setup prove test check-tools benchmark pictures lock clean
.DELETE_ON_ERROR:

setup: $(VENV)/.test-packages

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "leafwinch needs Python 3.11 or newer; '$(PYTHON)' is missing or older." \
	    "Install one and say 'make PYTHON=python3.12 ...'." >&2; exit 2; }
	$(PYTHON) -m venv $(VENV)

# The packages of a run are a part of those of a test, so that `make prove` waits less.
$(VENV)/.run-packages: requirements-run.lock pyproject.toml hatch_build.py | $(BIN)/python
	@echo "Setting up: the packages of a run (about half a minute) ..."
	@$(PIP) install --require-hashes -r requirements-run.lock
	@$(PIP) install --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/.test-packages: requirements.lock requirements-stubs.lock $(VENV)/.run-packages
	@echo "Setting up: the packages of the tests (about half a minute) ..."
	@$(PIP) install --require-hashes -r requirements.lock
	@rm -rf $(VENV)/board-stubs
	@$(PIP) install --require-hashes --target $(VENV)/board-stubs -r requirements-stubs.lock
	@touch $@

prove: $(VENV)/.run-packages
	@mkdir -p out
	$(BIN)/leafwinch prove --site workshop-pit \
	  --json out/prove-workshop-pit.json --html out/prove-workshop-pit.html

check-tools:
	@command -v ngspice >/dev/null || { \
	  echo "The tests compare the wiring with the circuit simulator ngspice, which is not here:" \
	    "install it with 'apt-get install ngspice' or 'brew install ngspice'." >&2; exit 2; }

test: check-tools $(VENV)/.test-packages
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/basedpyright --project firmware/pyrightconfig.json
	$(BIN)/python -m pytest -n $(WORKERS) --dist loadfile

benchmark: $(VENV)/.test-packages
	$(BIN)/python -m leafwinch_host.benchmark

pictures: prove
	@mkdir -p host/pictures
	$(BIN)/leafwinch run --site workshop-pit --script full-cycle --plot host/pictures/full-cycle.png
	chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size=900,1100 \
	  --screenshot=host/pictures/proof-report.png "file://$(CURDIR)/out/prove-workshop-pit.html"

lock: | $(BIN)/python
	$(PIP) install uv
	$(UV_COMPILE) --extra build pyproject.toml -o requirements-run.lock
	$(UV_COMPILE) --extra build --extra test -c requirements-run.lock \
	  pyproject.toml -o requirements.lock
	$(UV_COMPILE) --group stubs -o requirements-stubs.lock

clean:
	rm -rf $(VENV) out build dist .mypy_cache .pytest_cache .ruff_cache .hypothesis
