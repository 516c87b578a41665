# The daily commands. `make run` and `make test` do all of their own set-up.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
WORKERS ?= auto
ADDRESS ?= 127.0.0.1:8000

export BLENDSHOP_DEBUG ?= true

.PHONY: run test lint types bench clean

run: $(VENV)/runtime.stamp ## Migrate, load the demo once, serve on 127.0.0.1:8000
	$(BIN)/python manage.py migrate --verbosity 0
	$(BIN)/python manage.py load_demo --address http://$(ADDRESS)
	$(BIN)/python manage.py runserver $(ADDRESS)

test: $(VENV)/dev.stamp ## The whole suite
	$(BIN)/pytest --numprocesses $(WORKERS) --dist worksteal $(ARGS)

lint: $(VENV)/dev.stamp ## Style, layers, templates
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/lint-imports
	git ls-files 'templates/*.html' | xargs $(BIN)/djade --check --target-version 5.2

types: $(VENV)/dev.stamp ## mypy, strict
	$(BIN)/mypy blendshop formulas orders

bench: $(VENV)/dev.stamp ## Benchmarks: one line a figure, "ratio NAME VALUE" or "ms NAME VALUE"
	$(BIN)/pytest tests/benchmarks --benchmark-only --override-ini addopts= -s $(ARGS)

clean: ## Forget the virtual environment and the demo database
	rm -rf $(VENV) blendshop.sqlite3 blendshop.sqlite3-shm blendshop.sqlite3-wal staticfiles

$(VENV)/bin/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/runtime.stamp: requirements.txt | $(VENV)/bin/python
	$(BIN)/pip install --quiet --disable-pip-version-check -r requirements.txt
	touch $@

$(VENV)/dev.stamp: requirements.txt requirements-dev.txt | $(VENV)/bin/python
	$(BIN)/pip install --quiet --disable-pip-version-check -r requirements-dev.txt
	touch $@
