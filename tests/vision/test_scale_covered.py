"""Cards on which something lies: over their sides, or of their own shape."""

import numpy as np
import pytest

from vision.scale import Scale, find_scale

SHAPE, FOCAL_PX, CARD = (900, 1200), 900.0, (96, 60, 140)
SHINE = ((92, 92, 95), (196, 196, 200), (244, 244, 246))


def card(drawing, parts: list, seed: int, table=(190, 155, 110)):
    """Return a photo of a card with parts on it, and its true camera."""
    camera = drawing.camera_over(FOCAL_PX, 130.0, SHAPE, (6.0, -4.0, 12.0))
    body = drawing.rounded_rectangle((1.0, -2.0), (85.6, 53.98), 0.0, 3.18)
    rng = np.random.default_rng(seed)
    rgb = drawing.draw(camera, SHAPE, [(body, 0.76, CARD), *parts], rng, table=table)
    return drawing.photo_of(rgb), camera


def rods(at: np.ndarray, turn_deg: float, length: float, pitch: float, wide: float, many: int):
    """Return rods side by side, each a shade, a body and a shine: parts without a tool [mm]."""
    angle = np.radians(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])

    def row(lean: float, share: float):
        def distance(points: np.ndarray) -> np.ndarray:
            x, y = ((points - at) @ turn).T
            number = np.clip(np.rint(x / pitch), -(many // 2), many - many // 2 - 1)
            aside = np.abs(x - number * pitch - lean * wide) - 0.5 * share * wide
            return np.maximum(aside, np.abs(y) - 0.5 * length)

        return distance

    looks = ((0.0, 1.0), (-0.05, 0.7), (-0.1, 0.25))
    return [(row(*look), 2.0, shade) for look, shade in zip(looks, SHINE, strict=True)]


def right(scale: object, camera) -> None:
    assert isinstance(scale, Scale), scale
    ends = camera.centre_px + np.array([[100.0, 0.0], [-100.0, 0.0]])
    seen, true = (np.ptp(c.at_height(ends, 0.0), axis=0) for c in (scale.camera, camera))
    assert np.linalg.norm(seen) == pytest.approx(float(np.linalg.norm(true)), rel=0.003)


def test_a_card_with_rods_over_two_of_its_sides_is_found(drawing):
    """Of one side hardly a third shows; the rods' own ends and edges are lines as well."""
    parts = rods(np.array([8.0, -29.0]), 14.0, 26.0, 3.0, 2.0, 20)
    photo, camera = card(drawing, parts, 31)
    right(find_scale(photo, "card"), camera)


def test_what_lies_on_a_card_and_has_its_shape_is_not_taken_for_it(drawing):
    strip = drawing.rounded_rectangle((62.0, 23.0), (36.0, 4.0), 0.0, 0.1)
    ribs = rods(np.array([4.0, -3.0]), 4.0, 26.0, 2.6, 2.6, 17)
    photo, camera = card(drawing, [*ribs, (strip, 0.5, (60, 50, 45))], 32)
    right(find_scale(photo, "card"), camera)


def test_print_of_a_card_s_shape_does_not_pass_for_one_that_is_half_covered(drawing):
    """Two printed blocks, a third as large, make up its outline but for a gap in the long sides."""
    wide, high = 0.35 * 85.6, 0.35 * 53.98
    blocks = [
        (drawing.rounded_rectangle((-60.0 + x * wide, 33.0), (part * wide, high), 0.0, 0.1), 0.0)
        for x, part in ((-0.15, 0.7), (0.465, 0.07))
    ]
    print_ = [(*block, (120, 60, 200)) for block in blocks]
    parts = rods(np.array([8.0, -29.0]), 14.0, 26.0, 3.0, 2.0, 20)
    photo, camera = card(drawing, [*print_, *parts], 33)
    right(find_scale(photo, "card"), camera)
