# Everything runs in a local virtual environment; nothing is installed outside it.
#   make prove      check the workshop-pit demo site and write its report to out/
#   make test       every check and test (needs ngspice, spin, gcc, chromium, Python's headers)
#   make prove-full every tick, 10,000 healthy cycles and the large explorations, for hours
#   make mutation   change the control core in every way and see that the tests notice
#   make hunt       random sequences for MINUTES=15
#   make benchmark  how fast core and bench run on this machine, plain and compiled
#   make setup      only make the environment
#   make pictures   renew the pictures of README.md (needs chromium and pdftoppm)
#   make lock       renew the lock files after pyproject.toml changed
#   make clean      remove the environment, reports and caches

PYTHON ?= python3
WORKERS ?= 2
# One more than two processors, since many tests wait for a browser or a board.
TEST_WORKERS ?= 3
MINUTES ?= 15
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet
UV_COMPILE := $(BIN)/uv pip compile --quiet --universal --python-version 3.11 \
	--fork-strategy fewest --generate-hashes --no-header --no-annotate

.PHONY: setup prove prove-full compiled test check-tools mutation hunt benchmark pictures lock clean
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

$(VENV)/.test-packages: requirements.lock requirements-stubs-rp2.lock \
    requirements-stubs-esp32.lock $(VENV)/.run-packages
	@echo "Setting up: the packages of the tests (about half a minute) ..."
	@$(PIP) install --require-hashes -r requirements.lock
	@for port in rp2 esp32; do \
	  rm -rf $(VENV)/stubs-$$port; \
	  $(PIP) install --require-hashes --target $(VENV)/stubs-$$port \
	    -r requirements-stubs-$$port.lock || exit 1; \
	done
	@touch $@

prove: $(VENV)/.run-packages
	@mkdir -p out
	$(BIN)/leafwinch prove --site workshop-pit \
	  --json out/prove-workshop-pit.json --html out/prove-workshop-pit.html

compiled: $(VENV)/.test-packages
	@command -v gcc >/dev/null || { \
	  echo "The compiled build needs a C compiler: install it with 'apt-get install gcc" \
	    "python3-dev' or the like." >&2; exit 2; }
	@LEAFWINCH_BUILD=compiled $(BIN)/leafwinch --version >/dev/null 2>&1 \
	  || $(BIN)/python -m leafwinch_host.compiled_build

prove-full: compiled
	@mkdir -p out
	for site in workshop-pit boat-slip; do \
	  $(BIN)/leafwinch prove --site $$site --every-tick --workers $(WORKERS) \
	    --json out/every-tick-$$site.json --html out/every-tick-$$site.html \
	    --pdf out/every-tick-$$site.pdf || exit $$?; \
	  $(BIN)/leafwinch healthy --site $$site --cycles 10000 --workers $(WORKERS) \
	    --json out/healthy-$$site.json --html out/healthy-$$site.html || exit $$?; \
	  $(BIN)/leafwinch explore --site $$site --large --json out/explore-$$site.json || exit $$?; \
	done

mutation: $(VENV)/.test-packages
	$(BIN)/python -m tests.mutation --workers $(WORKERS)

hunt: compiled
	$(BIN)/python -m tests.sequences --minutes $(MINUTES)

check-tools:
	@command -v ngspice >/dev/null || { \
	  echo "The tests compare the wiring with the circuit simulator ngspice, which is not here:" \
	    "install it with 'apt-get install ngspice' or 'brew install ngspice'." >&2; exit 2; }
	@command -v spin >/dev/null && command -v gcc >/dev/null || { \
	  echo "The tests compare the state machine with the model checker spin, which needs gcc:" \
	    "install both with 'apt-get install spin gcc'." >&2; exit 2; }
	@command -v chromium >/dev/null || { \
	  echo "The tests try the page in the browser Chromium, which is not here: install it with" \
	    "'apt-get install chromium' or 'brew install chromium'." >&2; exit 2; }

test: check-tools compiled
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/basedpyright --project firmware/pyrightconfig.json
	$(BIN)/basedpyright --project firmware/pyrightconfig-esp32.json
	$(BIN)/python -m pytest -n $(TEST_WORKERS) --dist loadfile --no-loadscope-reorder

benchmark: compiled
	$(BIN)/python -m leafwinch_host.benchmark
	LEAFWINCH_BUILD=compiled $(BIN)/python -m tests.external.plant_speed
	$(BIN)/python -m tests.page.long_look --minutes 0.5

pictures: prove $(VENV)/.test-packages
	@mkdir -p host/pictures
	$(BIN)/leafwinch run --site workshop-pit --script full-cycle --plot host/pictures/full-cycle.png
	$(BIN)/leafwinch size --site workshop-pit --pdf out/size-workshop-pit.pdf
	pdftoppm -r 80 -f 2 -l 2 -png -singlefile out/size-workshop-pit.pdf host/pictures/size-report
	$(BIN)/python -m tests.page.pictures host/pictures
	chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size=900,1100 \
	  --screenshot=host/pictures/proof-report.png "file://$(CURDIR)/out/prove-workshop-pit.html"

lock: | $(BIN)/python
	$(PIP) install uv
	$(UV_COMPILE) --extra build pyproject.toml -o requirements-run.lock
	$(UV_COMPILE) --extra build --extra test -c requirements-run.lock \
	  pyproject.toml -o requirements.lock
	for port in rp2 esp32; do \
	  $(UV_COMPILE) --group stubs-$$port -o requirements-stubs-$$port.lock || exit 1; \
	done

clean:
	rm -rf $(VENV) out build dist .mypy_cache .pytest_cache .ruff_cache .hypothesis
