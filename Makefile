# make demo   replay the shipped night in the shipped room, and write its report; sets up .venv first
# make evening   play an evening against the shipped room, live; sets up .venv first
# make test   everything that has to hold before a change lands; sets up .venv first
# make quick  what takes less than a minute: lint, types, contracts, stories, golden nights
# Others: lint, coverage, soak, mutants, bench, hooks, lock, clean.

SHELL := bash
.SHELLFLAGS := -o pipefail -c
VENV := .venv
BIN := $(VENV)/bin

# Debian packages that the tests need: the broker with two clients, certificates, what shows a
# program's system calls (that data is synced before it is acknowledged), what reads a service unit,
# what shows a program another time, a browser that opens the pages.
DEBIAN_PACKAGES := mosquitto mosquitto-clients openssl strace systemd faketime chromium poppler-utils

# Clients and validators from npm that the tests meet as strangers.
FOREIGN := tests/live/foreign

# The first interpreter that is new enough; PYTHON=... on the command line chooses another.
NEW_ENOUGH := import sys; sys.exit(sys.version_info < (3, 11))
CANDIDATES := python3 python3.13 python3.12 python3.11
PYTHON ?= $(shell for p in $(CANDIDATES); do \
	"$$p" -c '$(NEW_ENOUGH)' >/dev/null 2>&1 && echo "$$p" && break; done)

# A virtual environment made without pip (Debian keeps ensurepip in a package of its own) is filled
# by the pip of the interpreter it was made from.
PIP = $$(if $(BIN)/python -c 'import pip' 2>/dev/null; then echo "$(BIN)/python -m pip"; \
	else echo "$(PYTHON) -m pip --python $(BIN)/python"; fi)
INSTALL = $(PIP) install --disable-pip-version-check --no-input --progress-bar off

# Installing takes a minute: a dot for each package shows that something is going on.
DOTS = awk '/^Collecting/ { printf "."; fflush() } \
	/^Installing collected/ { printf " unpacking"; fflush() } END { print "" }'
LISTED = echo "Installing $$(grep -c '^[a-z].*==' $(1)) packages: $(2)"; \
	$(INSTALL) --require-hashes -r $(1) | $(DOTS)

# Tests start hundreds of processes: compiled modules are kept, whatever the environment says.
unexport PYTHONDONTWRITEBYTECODE

# A worker more than processors; a file's tests stay together, for they share what they prove.
# tests/conftest.py has the longest files begin first.
PYTEST = $(BIN)/pytest --numprocesses auto --dist loadfile --no-loadscope-reorder
SIDE_BY_SIDE = $(MAKE) --no-print-directory --jobs=2 --output-sync=target

.PHONY: demo evening test checked collected quick coverage soak mutants lint style types contracts \
	bench hooks lock clean system
.DELETE_ON_ERROR:

demo: $(VENV)/.run
	@$(BIN)/roomcue demo
	@$(BIN)/roomcue report simulator/shipped/nights/evening.jsonl --out $(VENV)/evening.html --force

evening: $(VENV)/.embedded
	@$(BIN)/roomcue rehearse simulator/shipped/hayloft.yaml --seed 20 --titles 1

test: checked system $(VENV)/.foreign
	@$(PYTEST)

# Everything short of a test's run, side by side: what is compiled while the types are looked at need
# not be compiled by each worker.
checked: $(VENV)/.dev
	@$(SIDE_BY_SIDE) types collected style contracts

# The engine's stories and the golden nights; no service, no proof, no large sample.
quick: lint
	@$(PYTEST) tests/engine tests/golden tests/house

# Branch coverage by all tests, in the processes that they start as well.
coverage: system $(VENV)/.foreign $(VENV)/.dev
	@$(PYTEST) --cov --cov-report=term:skip-covered

lint: $(VENV)/.dev
	@$(SIDE_BY_SIDE) style types contracts

style: $(VENV)/.dev
	@$(BIN)/ruff check --quiet
	@$(BIN)/ruff format --check --quiet || { echo "run: $(BIN)/ruff format"; exit 1; }

types: $(VENV)/.dev
	@$(BIN)/mypy --no-error-summary

contracts: $(VENV)/.dev
	@out=$$($(BIN)/lint-imports 2>&1) || { echo "$$out"; exit 1; }

collected: $(VENV)/.dev
	@out=$$($(BIN)/pytest --collect-only --quiet --numprocesses=0 2>&1) || \
		{ echo "$$out" | tail -n 40; exit 1; }

# What takes seconds is looked at before each commit.
hooks: $(VENV)/.dev
	@$(BIN)/pre-commit install

# Large samples, other ones on every run: a thousand kills, floods, tables held against a solver,
# examples of the property tests. It takes hours. TIMES=10: ten times as many.
soak: mutants $(VENV)/.dev system $(VENV)/.foreign
	@ROOMCUE_SOAK=$(or $(TIMES),1) $(PYTEST)

# The modules that decide, with one thing changed at a time: at least 95 % of the changes must fail a
# test, and tests/mutation/survivors.toml explains each of the others.
mutants: $(VENV)/.dev
	@rm -rf mutants
	@$(BIN)/python tests/mutation/run.py run >mutants.log 2>&1 || { tail -n 20 mutants.log; exit 1; }
	@$(BIN)/python -m tests.mutation.check

bench: $(VENV)/.dev
	@for script in tests/benchmarks/bench_*.py; do \
		echo "== $$script"; $(BIN)/python "$$script" || exit 1; done

# ---------------------------------------------------------------------------------- set-up
# Each stamp is renewed when what it was made from changes.

$(BIN)/python:
	@test -n "$(PYTHON)" || { \
		echo "roomcue needs Python 3.11 or newer: none of $(CANDIDATES) is."; \
		echo "Install one (on Debian: apt-get install python3 python3-venv) or say"; \
		echo "make PYTHON=/path/to/python3.12"; exit 1; }
	@$(PYTHON) -c '$(NEW_ENOUGH)' || { \
		echo "roomcue needs Python 3.11 or newer; $(PYTHON) is $$($(PYTHON) -V 2>&1)."; exit 1; }
	@echo "Setting up $(VENV) with $$($(PYTHON) -V), once."
	@$(PYTHON) -m venv $(VENV) >/dev/null 2>&1 \
	|| { $(PYTHON) -m pip --python $(PYTHON) --version >/dev/null 2>&1 \
		&& $(PYTHON) -m venv --clear --without-pip $(VENV); } \
	|| { rm -rf $(VENV); \
		echo "$(PYTHON) can make no virtual environment here: it has neither ensurepip nor"; \
		echo "a pip of 22.3 or newer. On Debian: apt-get install python3-venv"; exit 1; }

$(VENV)/.run: .requirements/run.txt pyproject.toml | $(BIN)/python
	@$(call LISTED,.requirements/run.txt,what roomcue needs)
	@$(INSTALL) -q --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/.embedded: .requirements/embedded.txt $(VENV)/.run
	@$(call LISTED,.requirements/embedded.txt,the same and a broker)
	@touch $@

$(VENV)/.foreign: $(FOREIGN)/package-lock.json | $(BIN)/python
	@command -v npm >/dev/null || { echo "The tests need node and npm for foreign clients."; exit 1; }
	@echo "Fetching the foreign clients that the tests meet, with npm."
	@cd $(FOREIGN) && npm ci --silent --ignore-scripts --no-audit --no-fund
	@touch $@

$(VENV)/.dev: .requirements/dev.txt $(VENV)/.run
	@$(call LISTED,.requirements/dev.txt,the same and what checks it)
	@touch $@

system:
	@missing=""; \
	for p in $(DEBIAN_PACKAGES); do \
		dpkg -s "$$p" >/dev/null 2>&1 || missing="$$missing $$p"; done; \
	test -z "$$missing" && exit 0; \
	if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
		echo "Installing:$$missing"; \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive \
		apt-get install -qq -y --no-install-recommends $$missing >/dev/null; \
	else \
		echo "The tests need these Debian packages, which root must install:$$missing"; exit 1; fi

# ------------------------------------------------------------------------------------ lock
# Lists for every supported Python on Linux: `run` (what the product and its build need), `embedded`
# (the same with the extra), `dev` (the same versions, and the tools on top). Only the public index
# counts, whatever this machine is configured for.

UV_VERSION := 0.13.9
UV = env -u UV_INDEX -u UV_INDEX_URL -u UV_DEFAULT_INDEX -u UV_EXTRA_INDEX_URL -u UV_FIND_LINKS \
	-u UV_CONSTRAINT -u UV_OVERRIDE $(VENV)/lock/bin/uv
COMPILE = $(UV) pip compile --quiet --no-config --universal --python-version 3.11 \
	--generate-hashes --no-emit-index-url --custom-compile-command 'make lock' $(UPGRADE)

lock: | $(BIN)/python
	@test -x $(VENV)/lock/bin/uv || { $(PYTHON) -m venv $(VENV)/lock \
		&& $(VENV)/lock/bin/pip install -qq uv==$(UV_VERSION); }
	@$(COMPILE) pyproject.toml --group dev -o .requirements/dev.txt
	@$(COMPILE) pyproject.toml --group build -c .requirements/dev.txt -o .requirements/run.txt
	@$(COMPILE) pyproject.toml --extra embedded -c .requirements/dev.txt \
		-o .requirements/embedded.txt

clean:
	@rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache dist
	@rm -rf .coverage .coverage.* mutants mutants.log
	@rm -rf $(FOREIGN)/node_modules
	@find engine rules simulator adapters tests -name __pycache__ -prune -exec rm -rf {} +
