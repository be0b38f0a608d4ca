PYTHON ?= python3
BIN := .venv/bin

.PHONY: test clean
test: .venv/.ready
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/pytest

.venv/.ready: pyproject.toml requirements.lock
	$(PYTHON) -m venv .venv
	$(BIN)/pip install --quiet -r requirements.lock
	$(BIN)/pip install --quiet --no-deps -e .
	touch $@

clean:
	rm -rf .venv build *.egg-info
