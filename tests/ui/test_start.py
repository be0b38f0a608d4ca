"""The first page waits for nothing that it does not need; what comes next is loaded after it."""

import subprocess
import sys

HEAVY = ("altair", "cv2", "pandas", "reportlab", "scipy", "skimage", "sqlalchemy")


def test_the_empty_photo_page_loads_without_seeing_reckoning_and_keeping():
    code = "import sys, ui.screens.by_photo, ui.screens.look, ui.gate; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "ui.screens.by_photo" in loaded
    assert sorted(loaded & set(HEAVY)) == []
