PYTHON ?= python3
BIN := .venv/bin
PIP := $(BIN)/pip install --quiet --disable-pip-version-check

.PHONY: run test check lint beside alone thorough fuzz fuzz-coverage load docs site release audit mutants other screenshots accuracy fusing speed coins clean
# One thing after the other, whatever -j says: some of it wants the machine for itself.
.NOTPARALLEL:
run: .venv/.ready-run
	$(BIN)/coilreckon serve

# What is held to bounds of time and memory runs alone; so does what tells how fast the page comes.
# Beside one another, tests compute with one thread each: two of two crowd two processors. Browser
# tests, which wait for much, have a run of their own and are handed out one by one, the longest
# first; the others by the file, as some files measure once for many tests.
SIDE_BY_SIDE ?= 2
ONE_THREAD := OPENCV_FOR_THREADS_NUM=1 OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
ALONE := $(patsubst %,tests/trust/test_%.py,bad_photos load odd_pictures) tests/ui/test_browser_start.py
LONGEST := tests/ui/test_browser_journey.py tests/ui/test_browser_correct.py
BROWSER := $(LONGEST) $(patsubst %,tests/trust/test_%.py,asks_nobody key_in_a_browser) \
	$(filter-out $(LONGEST) $(ALONE),$(wildcard tests/ui/test_browser*.py))
# What is marked as thorough takes long and seldom fails alone: `make thorough` runs it before a release.
USUAL := -m "not thorough"
test: lint beside alone

check: lint
	$(BIN)/mypy

lint: .venv/.ready-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

# The types are looked at while browsers wait.
beside: .venv/.ready-test
	$(BIN)/mypy & types=$$!; \
	$(ONE_THREAD) $(BIN)/pytest -n $(SIDE_BY_SIDE) --dist worksteal $(USUAL) $(BROWSER); tested=$$?; \
	wait $$types && exit $$tested
	$(ONE_THREAD) $(BIN)/pytest -n $(SIDE_BY_SIDE) --dist loadfile $(USUAL) $(patsubst %,--ignore=%,$(ALONE) $(BROWSER))

alone: .venv/.ready-test
	$(BIN)/pytest $(USUAL) $(ALONE)

thorough: .venv/.ready-test
	$(ONE_THREAD) $(BIN)/pytest -n $(SIDE_BY_SIDE) -m thorough

# Bad input for long: make fuzz COUNT=20000
COUNT ?= 5000
fuzz: .venv/.ready-test
	COILRECKON_FUZZ=$(COUNT) $(BIN)/pytest tests/trust -k "bad or odd or worn" --durations=10

# The same guided by coverage, with the extra fuzz: make fuzz-coverage TARGET=photo|exif|springs
TARGET ?= photo
SECONDS ?= 60
fuzz-coverage: .venv/.ready-test
	$(PIP) -c requirements.lock -e ".[fuzz]"
	$(BIN)/python -m tests.trust.seeds build/seeds
	$(BIN)/python -m tests.trust.by_coverage $(TARGET) -max_total_time=$(SECONDS) -timeout=20 \
		-rss_limit_mb=1000 -artifact_prefix=build/ build/seeds/$(TARGET)

# Twenty phones send a photo at once: make load [PHONES=20]
PHONES ?= 20
load: .venv/.ready-test
	$(BIN)/python -m tests.trust.phones $(PHONES)

# The docs as a site, in build/site; its page of comparisons is made from tests that hold.
docs: .venv/.ready-test
	$(BIN)/pytest -q tests/validation
	$(MAKE) site

site: .venv/.ready-test
	NO_MKDOCS_2_WARNING=1 $(BIN)/mkdocs build --quiet --config-file .mkdocs.yml

# Wheel and sdist into build/release/dist, tried from an environment of their own.
release: .venv/.ready-test
	$(BIN)/python -m tests.trust.release

# Do the tests notice when a line of `mechanics` is changed? A sample of each module, an hour or so.
EACH ?= 40
mutants: .venv/.ready-test
	$(PIP) mutmut==3.8.1
	nice -n 19 $(BIN)/python -m tests.trust.mutants --each $(EACH)

# The suite on another Python or OpenCV: make other PYTHON=python3.13 [OPENCV=4.13.0.92] [TESTS=tests/vision]
# Where only OpenCV is another, the rest is looked for in .venv, after what is installed here.
OTHER := build/other/bin/python
OTHER_PIP := $(OTHER) -m pip install --quiet --disable-pip-version-check --no-compile
other: .venv/.ready-test
ifeq ($(origin PYTHON),file)
	$(BIN)/python -m venv --clear build/other
	realpath .venv/lib/python*/site-packages >$$(echo build/other/lib/python*/site-packages)/rest.pth
else
	$(PYTHON) -m venv --clear build/other
	$(OTHER_PIP) -r requirements.lock
endif
	test -z "$(OPENCV)" || $(OTHER_PIP) --no-deps --ignore-installed opencv-python-headless==$(OPENCV)
	$(OTHER) -c "import cv2, sys; print('Python', sys.version.split()[0], 'with OpenCV', cv2.__version__)"
	$(ONE_THREAD) $(OTHER) -m pytest -n $(SIDE_BY_SIDE) --dist loadfile $(TESTS)

# Known faults of the versions in use; ends with 3, and says so, where nobody could be asked.
audit: .venv/.ready-test
	$(PIP) pip-audit==2.10.1
	$(BIN)/python -m tests.trust.audit $(AUDIT)

screenshots: .venv/.ready-test
	$(BIN)/python docs/screenshots.py

# Photos with their truth beside them: make accuracy PHOTOS=folder [REFERENCE=auto]
accuracy: .venv/.ready-run
	@$(BIN)/python -m ui.accuracy $(PHOTOS) $(if $(REFERENCE),--reference $(REFERENCE))

# Several photos of each spring, NAME-1.jpg and on, against one: make fusing PHOTOS=folder [WORKERS=2] [OUT=file.jsonl]
fusing: .venv/.ready-run
	@$(BIN)/python -m ui.fusing $(PHOTOS) $(if $(WORKERS),--workers $(WORKERS)) $(if $(OUT),--out $(OUT))

# Time of the answer over that of decoding, and the memory it takes: make speed PHOTOS=folder
# With BLAS as `ui` sets it, for this script's own NumPy comes before that.
speed: .venv/.ready-test
	@OPENBLAS_NUM_THREADS=1 $(BIN)/python -m tests.trust.speed $(PHOTOS)

# A photo of several coins tests the scale: make coins PHOTO=file [REFERENCE=coin:EUR-2]
coins: .venv/.ready-run
	@$(BIN)/python -m ui.coin_check $(PHOTO) $(if $(REFERENCE),--reference $(REFERENCE)) $(if $(ONLY),--only $(ONLY))

# Stamps keep a second run off the network; versions are the lock's, whatever is installed.
.venv/.ready-run: pyproject.toml requirements.lock
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(PIP) -c requirements.lock -e .
	touch $@

.venv/.ready-test: .venv/.ready-run
	$(PIP) --no-compile -r requirements.lock
	touch $@

clean:
	rm -rf .venv build *.egg-info
