"""The machines of a Dask cluster as the place where photos are measured."""

from collections.abc import Iterator
from contextlib import contextmanager

from distributed import Client
from joblib import parallel_config


@contextmanager
def on_cluster(address: str) -> Iterator[None]:
    """Let joblib's work be done by a cluster; its workers must see the same folder.

    Parameters
    ----------
    address : str
        Of its scheduler.

    Raises
    ------
    OSError
        If nothing answers there.
    """
    client = Client(address, timeout=10)  # type: ignore[no-untyped-call]
    with client, parallel_config(backend="dask"):
        yield
