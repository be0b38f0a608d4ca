"""Makes wheel and sdist, and tries the wheel where nothing else of the project is.

``python -m tests.trust.release`` installs it with its dependencies into an environment of its own;
``--here`` takes the dependencies of this one, which is quick and needs no network.
"""

import json
import os
import shutil
import site
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
BUILD = ROOT / "build"
SAMPLE = ROOT / "fixtures" / "pictures" / "sample.jpg"
#: What is no module and yet must come along.
NEEDED = (
    "vision/data/wire-map.onnx",
    "vision/data/edge-reader.onnx",
    "vision/data/rim-reader.onnx",
    "vision/data/end-reader.onnx",
    "ui/look.toml",
    "ui/front.py",
    "ui/collection/migrations/env.py",
    "ui/collection/migrations/versions/first.py",
)
#: What is nobody's but the developers'.
FOREIGN = ("tests/", "fixtures/")
TRY = """
import os, sys
from ui.collection.store import Collection, usual_url
os.environ["COILRECKON_DATABASE"] = "sqlite:///" + sys.argv[1]
collection = Collection(usual_url())
assert collection.find() == []
import ui, vision
print(ui.__path__[0])
"""


def made(folder: Path) -> tuple[Path, Path]:
    """Make wheel and sdist from a copy of what is tracked, and return both."""
    source = folder / "source"
    shutil.rmtree(folder, ignore_errors=True)
    for package in ("mechanics", "vision", "ui"):
        skipped = shutil.ignore_patterns("__pycache__")
        shutil.copytree(ROOT / package, source / package, ignore=skipped)
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, source / name)
    out = folder / "dist"
    run([sys.executable, "-m", "build", "--outdir", str(out), str(source)], folder)
    (wheel,), (sdist,) = out.glob("*.whl"), out.glob("*.tar.gz")
    return wheel, sdist


def run(command: list[str], where: Path) -> str:
    """Run a command somewhere, and return what it printed."""
    alone = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(command, cwd=where, capture_output=True, text=True, env=alone)
    if done.returncode:
        raise SystemExit(f"{command} in {where} failed:\n{done.stdout}\n{done.stderr}")
    return done.stdout


def check_contents(wheel: Path, sdist: Path) -> None:
    """Both hold the weights and all that is needed, and no test."""
    with zipfile.ZipFile(wheel) as packed:
        inside = set(packed.namelist())
    with tarfile.open(sdist) as archive:
        source = {name.split("/", 1)[-1] for name in archive.getnames()}
    for names in (inside, source):
        missing = [name for name in NEEDED if name not in names]
        assert missing == [], missing
        assert [name for name in names if name.startswith(FOREIGN)] == []


def installed(wheel: Path, folder: Path, here: bool) -> Path:
    """Install the wheel into an environment of its own, and return its programs' folder."""
    venv.create(folder, clear=True, with_pip=True)
    programs = folder / "bin"
    # What is run is compiled then; to compile all that is installed takes as long as to install it.
    quiet = ["--quiet", "--disable-pip-version-check", "--no-compile"]
    command = [str(programs / "pip"), "install", *quiet]
    if here:
        (packages,) = folder.glob("lib/python*/site-packages")
        (packages / "others.pth").write_text("\n".join(site.getsitepackages()))
        # A folder's own links are not followed there, so the checkout stays out of sight.
        run([*command, "--no-deps", "--ignore-installed", str(wheel)], folder)
    else:
        run([*command, "-c", str(ROOT / "requirements.lock"), str(wheel)], folder)
    return programs


def check_works(programs: Path, folder: Path) -> dict[str, float]:
    """Measure the sample photo, reckon and keep, away from the checkout; return the errors [%]."""
    away = folder / "away"
    away.mkdir()
    photo = shutil.copy(SAMPLE, away / "spring.jpg")
    python, program = str(programs / "python"), str(programs / "coilreckon")
    where = run([python, "-c", TRY, str(away / "springs.sqlite")], away).strip()
    assert str(ROOT / "ui") != where, where
    told = json.loads(run([program, "measure", "--json", "--reference", "card", str(photo)], away))
    truth = json.loads(SAMPLE.with_suffix(".json").read_text())
    errors = {
        name: 100.0 * (told["geometry"][name]["value"] / truth[name] - 1.0)
        for name in ("wire_diameter_mm", "outer_diameter_mm", "free_length_mm")
    }
    assert max(abs(error) for error in errors.values()) < 2.0, errors
    rate = ["rate", "--wire", "1.4", "--outside", "13", "--total-coils", "9.5", "--json"]
    assert json.loads(run([program, *rate], away))["rate_N_per_mm"]["value"] > 0.0
    return errors


def release(here: bool) -> None:
    """Make, check and try a release in `build`."""
    folder = BUILD / "release"
    wheel, sdist = made(folder)
    check_contents(wheel, sdist)
    errors = check_works(installed(wheel, folder / "clean", here), folder)
    told = ", ".join(f"{name} {error:+.2f} %" for name, error in errors.items())
    print(f"{wheel.relative_to(ROOT)}, {sdist.relative_to(ROOT)}: the sample from there: {told}")


if __name__ == "__main__":
    release("--here" in sys.argv)
