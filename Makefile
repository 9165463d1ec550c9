# Lightgap: set up, start, check. What is missing is installed first, from the lock files.

PYTHON ?= python3
PORT ?= 8000
ARGS ?=

VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check
INSTALL := $(PIP) install --quiet --no-compile --only-binary :all: --require-hashes --requirement
UV := $(BIN)/uv pip compile --quiet --universal --python-version 3.11 --fork-strategy fewest \
	--generate-hashes --no-emit-index-url --no-header --upgrade

# Each of these files tells by its age that a step is done.
MADE := $(VENV)/pyvenv.cfg
RUNS := $(VENV)/runs
TESTS := $(VENV)/tests
DRIVER := $(VENV)/postgresql
HTMX := node_modules/.package-lock.json

# Debian's packages for tests in a browser; libatomic1 is for what drives it.
BROWSER := chromium-headless-shell fonts-dejavu-core libatomic1
# Debian's package for tests on another database than SQLite.
DATABASE := postgresql
SUDO := $(if $(filter-out 0,$(shell id -u)),sudo)

# One thread for each process: the systems of equations are small and many.
export OMP_NUM_THREADS := 1
export OPENBLAS_NUM_THREADS := 1

# What is imported is compiled once, not by each process anew, and out of the way of the sources.
export PYTHONPYCACHEPREFIX := $(CURDIR)/$(VENV)/bytecode
unexport PYTHONDONTWRITEBYTECODE

.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
.PHONY: help run test explore lint format bench wheel lock clean packages

help: ## List the targets
	@sed -n 's/^\([a-z]*\):.*## \(.*\)/  make \1\t\2/p' $(MAKEFILE_LIST) | expand -t 16

run: $(RUNS) $(HTMX) $(if $(findstring postgresql,$(LIGHTGAP_DATABASE)),$(DRIVER)) ## Start Lightgap on this machine and print its address; PORT=8000
	@$(BIN)/python -m webapp --port $(PORT)

# Three at a time keep two cores busy, as one of them often waits for a browser or a server.
test: lint $(HTMX) packages ## Check everything but the benchmarks; ARGS="tests/engine -k knee" narrows it
	$(BIN)/python -m pytest -n 3 --dist loadfile --no-loadscope-reorder $(ARGS)

explore: $(TESTS) ## Try what is tested by examples on others, new ones each time; ARGS="tests/property"
	$(BIN)/python -m pytest -n 2 -m hypothesis --hypothesis-profile other $(ARGS)

lint: $(TESTS) ## Check style, format and import contracts
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/lint-imports --no-logo

format: $(TESTS) ## Mend style and format where that can be done without thought
	$(BIN)/ruff check --fix
	$(BIN)/ruff format

bench: $(TESTS) $(HTMX) ## Measure speed
	$(BIN)/python -m tests.benchmarks $(ARGS)

wheel: $(TESTS) $(HTMX) ## Build the wheel and the source archive into dist
	$(BIN)/hatchling build

lock: $(MADE) ## Lock the newest versions of what pyproject.toml asks for
	$(PIP) install --quiet uv
	$(UV) pyproject.toml --output-file requirements.lock
	$(UV) pyproject.toml --group test --constraint requirements.lock --output-file requirements-test.lock
	$(UV) pyproject.toml --extra postgresql --constraint requirements.lock --output-file requirements-postgresql.lock
	$(UV) --group node --output-file requirements-node.lock

clean: ## Remove all that the other targets made
	rm -rf $(VENV) node_modules dist .artifacts .hypothesis .import_linter_cache .pytest_cache .ruff_cache
	find . -name __pycache__ -prune -exec rm -rf {} +

$(MADE):
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
		|| { echo 'Lightgap needs Python 3.11 or newer as $(PYTHON); choose one with PYTHON=...'; exit 1; }
	@$(PYTHON) -c 'import ensurepip' 2>/dev/null \
		|| { echo 'Python lacks its venv module; on Debian: apt-get install python3-venv'; exit 1; }
	$(PYTHON) -m venv $(VENV)

$(RUNS): requirements.lock | $(MADE)
	$(INSTALL) $<
	@touch $@

$(DRIVER): requirements-postgresql.lock | $(MADE)
	$(INSTALL) $<
	@touch $(RUNS) $@

$(TESTS): requirements-test.lock | $(MADE)
	$(INSTALL) $<
	@touch $(RUNS) $@

$(HTMX): package-lock.json | $(MADE)
	@command -v npm >/dev/null || $(INSTALL) requirements-node.lock
	PATH="$$PATH:$(CURDIR)/$(BIN)" npm ci
	@touch $@

packages:
	@command -v apt-get >/dev/null || exit 0; \
	dpkg --status $(BROWSER) $(DATABASE) >/dev/null 2>&1 || { \
		$(SUDO) apt-get update -qq && \
		$(SUDO) env DEBIAN_FRONTEND=noninteractive apt-get install -qq --no-install-recommends $(BROWSER) $(DATABASE) >/dev/null; }
