"""What the page's tests begin with serves these, too."""

from tests.ui.conftest import (  # noqa: F401
    empty_collection,
    measurement,
    photo,
    seen,
    sight,
)
