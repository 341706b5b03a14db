# Two commands for a user: make demo, make test. The virtual environment is the project's own.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed-
# With compiled files kept (some machines forbid it), as else each of the many processes that the tests start makes them.
TESTS := PYTHONDONTWRITEBYTECODE= $(BIN)/python -m pytest -n 3 --dist worksteal

# The pip that an older Python brings takes twice as long to choose among versions, half a minute of a processor.
PIP := $(BIN)/python -m pip install --disable-pip-version-check -q

.PHONY: coverage site demo install test tested long lint proof bench licences bill wheelhouse clean

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 10) else "callout needs Python 3.10 or newer; name one with: make PYTHON=python3.11 demo")'
	@$(PYTHON) -c 'import ensurepip' 2>/dev/null || { echo "Python lacks venv; on Debian or Ubuntu: sudo apt-get install python3-venv"; exit 1; }
	@echo "making the virtual environment in $(VENV)"
	@$(PYTHON) -m venv $(VENV)
	@$(PIP) 'pip>=25' 2>/dev/null || true

$(STAMP)user: $(BIN)/python pyproject.toml
	@echo "installing callout (about a minute the first time)"
	@$(PIP) --progress-bar on -e .
	@touch $@

# In one go, and without compiling what nobody imports: the tests compile the rest as they go. That all fit together is
# not looked at again, as each was chosen to fit.
$(STAMP)dev: $(BIN)/python pyproject.toml
	@echo "installing callout and the test tools (about a minute the first time)"
	@$(PIP) --no-compile --no-warn-conflicts -e '.[dev]'
	@touch $(STAMP)user $@

install: $(STAMP)dev

demo: $(STAMP)user
	@$(BIN)/callout demo

test: lint tested

tested: $(STAMP)dev
	$(TESTS)

# Every case of every test (tests/how_much.py), an hour or two.
long: $(STAMP)dev
	TESTS_LONG=1 $(TESTS) -m 'slow or not slow'

coverage: $(STAMP)dev
	$(TESTS) --cov --cov-report=term:skip-covered

lint: $(STAMP)dev
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

proof: $(STAMP)dev
	$(BIN)/python -m tests.proof

bench: $(STAMP)dev
	$(BIN)/python -m tests.bench

licences: $(STAMP)dev
	@$(BIN)/python release/licences.py --check > docs/licences.md

# A bill of materials of what an installation brings (CycloneDX), for who must answer for it.
bill: $(STAMP)dev
	@mkdir -p dist
	@$(BIN)/python release/bill.py dist/callout.cdx.json
	@echo "wrote dist/callout.cdx.json"

wheelhouse: $(STAMP)dev
	@$(BIN)/python release/wheelhouse.py dist/wheelhouse

site: $(STAMP)dev
	@$(BIN)/python -m release.site dist/site

clean:
	rm -rf $(VENV) demo-output
