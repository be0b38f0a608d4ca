import pytest

from mechanics.uncertainty import Quantity
from ui.figures import band_text, value_text


@pytest.mark.parametrize(
    ("q", "value", "band"),
    [
        (Quantity(1.204, 0.011, 1.1824, 1.2256), "1.204", "1.182 to 1.226"),
        (Quantity(0.98, 0.095, 0.80, 1.17), "0.98", "0.80 to 1.17"),
        (Quantity(101.97, 9.6, 83.4, 121.6), "102", "83 to 122"),
        (Quantity(45.0, 0.2, 44.6, 45.4), "45.00", "44.60 to 45.40"),
        (Quantity(1.2, 0.0, 1.2, 1.2), "1.200", "taken as exact"),
        (Quantity(0.31, 14.0, 0.02, 46.0), "0.3", "0.0 to 46.0"),
        (Quantity(0.31, 14.0, -30.0, 46.0), "0", "-30 to 46"),
    ],
)
def test_digits_follow_the_band(q, value, band):
    assert (value_text(q), band_text(q)) == (value, band)
