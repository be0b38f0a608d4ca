"""How long an answer takes beside decoding its JPEG, and how much memory.

``python -m tests.trust.speed FOLDER`` (``make speed PHOTOS=FOLDER``) answers each JPEG once in one
warm process, and once more in a process of its own, whose memory is read. What lies beside the
spring is what the truth beside the photo says; without one it is looked for.
"""

import json
import multiprocessing as mp
import os
import statistics
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Annotated

import cv2
import numpy as np
import typer

from tests.trust.memory import peak_bytes
from ui.accuracy import GIVEN, reference_kind
from ui.measuring import answer_or_refusal, parse_reference, see
from vision.photo import read
from vision.refusal import Refusal

#: What is wanted of a photo of 12 megapixels.
MOST_TIMES, MOST_SECONDS, MOST_BYTES, LARGE_MP = 8.0, 2.0, 700e6, 11.5
#: Decoding is short, so the middle of several is taken.
DECODINGS = 5


@dataclass(frozen=True)
class Pace:
    """One photo: how large, how long its decoding and its answer take, and the memory."""

    photo: str
    megapixels: float
    decode_s: float
    answer_s: float
    peak_bytes: int
    said: str

    @property
    def ratio(self) -> float:
        return self.answer_s / self.decode_s


def decode_seconds(data: bytes) -> tuple[float, float]:
    """Return megapixels, and how long the bare decoder (`cv2.imdecode`, to colour) takes [s]."""
    coded, times = np.frombuffer(data, np.uint8), []
    for _ in range(DECODINGS):
        began = time.perf_counter()
        picture = cv2.imdecode(coded, cv2.IMREAD_COLOR)
        times.append(time.perf_counter() - began)
    return picture.shape[0] * picture.shape[1] / 1e6, statistics.median(times)


def answer_seconds(path: Path) -> tuple[float, str]:
    """Return how long it takes from the file to the answer [s], and what was said."""
    truth = path.with_suffix(".json")
    kind = reference_kind(json.loads(truth.read_text())) if truth.is_file() else "auto"
    began = time.perf_counter()
    photo = read(path)
    seen = photo if isinstance(photo, Refusal) else see(photo, parse_reference(kind, 0.0))
    answer = seen if isinstance(seen, Refusal) else answer_or_refusal(seen, GIVEN)
    seconds = time.perf_counter() - began
    return seconds, answer.reason if isinstance(answer, Refusal) else "measured"


def peak_of_answer(path: Path) -> int:
    """Return the most memory this process has held once it has answered a photo [bytes]."""
    answer_seconds(path)
    return peak_bytes()


def paces(photos: Sequence[Path]) -> Iterator[Pace]:
    """Return an iterator over the photos' paces; the first photo is answered once to warm up."""
    answer_seconds(photos[0])
    # A process for each photo, begun anew and not forked: its peak holds nothing of this one.
    context = mp.get_context("spawn")
    with ProcessPoolExecutor(1, mp_context=context, max_tasks_per_child=1) as fresh:
        for path in photos:
            megapixels, decoding = decode_seconds(path.read_bytes())
            answering, said = answer_seconds(path)
            peak = fresh.submit(peak_of_answer, path).result()
            yield Pace(path.name, megapixels, decoding, answering, peak, said)


def line(one: Pace) -> str:
    return (
        f"{one.photo:<22.22} {one.megapixels:5.1f} {one.decode_s:9.3f} {one.answer_s:9.2f} "
        f"{one.ratio:7.1f} {one.peak_bytes / 1e6:9.0f}  {one.said}"
    )


def summary(done: Sequence[Pace]) -> list[str]:
    """Return middle and worst, and how many photos keep to what is wanted."""
    columns = (
        ([one.decode_s for one in done], "9.3f"),
        ([one.answer_s for one in done], "9.2f"),
        ([one.ratio for one in done], "7.1f"),
        ([one.peak_bytes / 1e6 for one in done], "9.0f"),
    )
    lines = [
        f"{label:<28} " + " ".join(f"{of(values):{form}}" for values, form in columns)
        for label, of in (("median", statistics.median), ("worst", max))
    ]
    within = (
        (f"at most {MOST_TIMES:g} times decoding", [p.ratio <= MOST_TIMES for p in done]),
        (f"at most {MOST_SECONDS:g} s", [p.answer_s <= MOST_SECONDS for p in done]),
        (f"at most {MOST_BYTES / 1e6:.0f} MB", [p.peak_bytes <= MOST_BYTES for p in done]),
    )
    return lines + [f"{name}: {sum(held)} of {len(held)}" for name, held in within]


def main(
    folder: Annotated[Path, typer.Argument(help="JPEG photos.")],
    most: Annotated[int, typer.Option(min=1, help="The first so many photos only.")] = 1_000_000,
) -> None:
    """Print for each photo the time of decoding and of the answer, their ratio, and the memory."""
    inside = sorted(folder.iterdir()) if folder.is_dir() else []
    found = (path for path in inside if path.suffix.lower() in (".jpg", ".jpeg"))
    photos = list(islice(found, most))
    if not photos:
        typer.echo(f"speed: no JPEG lies in {folder}", err=True)
        raise typer.Exit(2)
    before = os.getloadavg()[0]
    typer.echo(
        f"{os.cpu_count()} processors, {cv2.getNumThreads()} threads of OpenCV {cv2.__version__}, "
        f"load {before:.1f} before; decoding is cv2.imdecode, the answer goes from file to rate"
    )
    names = f"{'decode s':>9} {'answer s':>9} {'ratio':>7} {'peak MB':>9}"
    typer.echo(f"{'photo':<22} {'MP':>5} {names}")
    done = []
    for one in paces(photos):
        done.append(one)
        typer.echo(line(one))
    typer.echo("\n".join(summary(done)))
    large = [one for one in done if one.megapixels >= LARGE_MP]
    if 0 < len(large) < len(done):
        typer.echo("\n".join([f"of 12 megapixels ({len(large)}):", *summary(large)]))


if __name__ == "__main__":
    typer.run(main)
