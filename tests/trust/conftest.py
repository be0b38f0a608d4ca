"""What the page's tests begin with serves these, too."""

from tests.ui.conftest import (  # noqa: F401
    browser,
    empty_collection,
    measurement,
    own_database,
    photo,
    seen,
    sight,
)
