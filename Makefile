PYTHON ?= python3
BIN := .venv/bin
PIP := $(BIN)/pip install --quiet --disable-pip-version-check

.PHONY: run test screenshots accuracy coins clean
run: .venv/.ready-run
	$(BIN)/coilreckon serve

test: .venv/.ready-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/pytest

screenshots: .venv/.ready-test
	$(BIN)/python docs/screenshots.py

# Photos with their truth beside them: make accuracy PHOTOS=folder [REFERENCE=auto]
accuracy: .venv/.ready-run
	@$(BIN)/python -m ui.accuracy $(PHOTOS) $(if $(REFERENCE),--reference $(REFERENCE))

# A photo of several coins tests the scale: make coins PHOTO=file [REFERENCE=coin:EUR-2]
coins: .venv/.ready-run
	@$(BIN)/python -m ui.coin_check $(PHOTO) $(if $(REFERENCE),--reference $(REFERENCE)) $(if $(ONLY),--only $(ONLY))

# Stamps keep a second run off the network; versions are the lock's, whatever is installed.
.venv/.ready-run: pyproject.toml requirements.lock
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(PIP) -c requirements.lock -e .
	touch $@

.venv/.ready-test: .venv/.ready-run
	$(PIP) -r requirements.lock
	touch $@

clean:
	rm -rf .venv build *.egg-info
