# The daily commands. `make run` and `make test` do all of their own set-up.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
WORKERS ?= auto
ADDRESS ?= 127.0.0.1:8000
LOCK := blendshop/deploy/requirements.lock
# What Django reads of each language; kept are the .po files alone.
MESSAGES := $(patsubst %.po,%.mo,$(wildcard blendshop/locale/*/LC_MESSAGES/django.po))

export BLENDSHOP_DEBUG ?= true

# What each test sent, for tests/second_run.txt.
STATEMENTS := .pytest_statements

.PHONY: run test second-run lint types bench messages lock clean port-is-free

# An environment whose interpreter is gone or too old, or that was copied or moved here (its
# scripts name the old place), is made anew; what was installed is then installed again.
ifneq ($(shell test -e $(VENV) -o -L $(VENV) && echo there),)
ifneq ($(shell $(BIN)/python -c 'import sys; print(sys.version_info >= (3, 11))' 2>&1; \
  head -n 2 $(BIN)/pip 2>&1 | grep -cF -e '$(CURDIR)/$(BIN)/python' -e '$(realpath $(VENV))/bin/python'),True 1)
$(info $(VENV) does not work here and is made anew.)
$(shell rm -rf $(VENV))
endif
endif

run: | $(BIN)/python port-is-free $(VENV)/runtime.stamp $(MESSAGES) ## Migrate, load the demo once, serve on 127.0.0.1:8000
	$(BIN)/python manage.py migrate --verbosity 0
	$(BIN)/python manage.py load_demo --year --address http://$(ADDRESS)
	$(BIN)/python manage.py runserver $(ADDRESS)

test: $(VENV)/dev.stamp $(MESSAGES) ## The whole suite
	$(BIN)/pytest --numprocesses $(WORKERS) --dist worksteal $(ARGS)

second-run: $(VENV)/dev.stamp $(MESSAGES) ## The suite, and by it anew what a second database need not run (tests/second_run.txt)
	rm -rf $(STATEMENTS)
	$(BIN)/pytest --numprocesses $(WORKERS) --dist worksteal --statements=$(STATEMENTS) $(ARGS)
	$(BIN)/python -m tests.second_run $(STATEMENTS) --choose

lint: $(VENV)/dev.stamp ## Style, layers, templates
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/lint-imports
	git ls-files 'templates/*.html' | xargs $(BIN)/djade --check --target-version 5.2

types: $(VENV)/dev.stamp ## mypy, strict
	$(BIN)/mypy blendshop formulas orders

bench: $(VENV)/dev.stamp ## Benchmarks: one line a figure, "ratio NAME VALUE" or "ms NAME VALUE"
	$(BIN)/pytest tests/benchmarks --benchmark-only --override-ini addopts= -s $(ARGS)

messages: $(VENV)/dev.stamp ## New texts of the translated rooms into the Spanish catalogue, and compile it
	$(BIN)/python manage.py gather_messages
	$(BIN)/python -m blendshop.languages.compiled

lock: $(VENV)/dev.stamp ## Pin requirements.txt with hashes; ARGS=--upgrade for the newest allowed
	CUSTOM_COMPILE_COMMAND='make lock' $(BIN)/pip-compile --quiet --generate-hashes --strip-extras \
	  --no-emit-index-url --no-emit-find-links --output-file $(LOCK) $(ARGS) requirements.txt

clean: ## Forget the virtual environment and the demo database
	rm -rf $(VENV) blendshop.sqlite3 blendshop.sqlite3-shm blendshop.sqlite3-wal staticfiles $(STATEMENTS)

port-is-free: | $(BIN)/python
	@$(BIN)/python -c "import socket; s = socket.socket(); host, _, port = '$(ADDRESS)'.rpartition(':'); \
	s.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1); s.bind((host or '127.0.0.1', int(port)))" 2>/dev/null \
	|| { echo '$(ADDRESS) cannot be used (is something running there?): stop it, or choose another, for example' \
	'make run ADDRESS=127.0.0.1:8001' >&2; exit 1; }

$(BIN)/python:
	@command -v $(PYTHON) >/dev/null || { echo 'There is no $(PYTHON): install Python 3.11 or newer, or name one,' \
	'for example make $(or $(MAKECMDGOALS),run) PYTHON=python3.12' >&2; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo '$(PYTHON) is' \
	"$$($(PYTHON) --version 2>&1), and Blendshop needs Python 3.11 or newer: name one, for example" \
	'make $(or $(MAKECMDGOALS),run) PYTHON=python3.12' >&2; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { echo '$(PYTHON) lacks its venv module: install it' \
	'(on Debian and Ubuntu the package python3-venv)' >&2; exit 1; }
	$(PYTHON) -m venv $(VENV)

%.mo: %.po | $(BIN)/python
	$(BIN)/python -m blendshop.languages.compiled

$(VENV)/runtime.stamp: requirements.txt | $(BIN)/python
	$(BIN)/pip install --quiet --disable-pip-version-check -r requirements.txt
	touch $@

$(VENV)/dev.stamp: requirements.txt requirements-dev.txt | $(BIN)/python
	$(BIN)/pip install --quiet --disable-pip-version-check --no-compile -r requirements-dev.txt
	touch $@
