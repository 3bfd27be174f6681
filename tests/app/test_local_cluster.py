"""The workers of this machine let in whoever started them, and nobody else of this machine."""

from __future__ import annotations

import os
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest
from distributed import Client
from distributed.security import Security

from app.jobs.cluster import open_workers
from app.jobs.local_cluster import open_local_cluster


def test_a_foreign_client_is_refused() -> None:
    with open_local_cluster(1) as (address, security):
        assert address.startswith("tls://127.0.0.1:")
        bare = address.replace("tls://", "tcp://")
        for foreign, key in ((bare, None), (address, Security.temporary())):
            with pytest.raises((OSError, TimeoutError)):
                Client(foreign, security=key, timeout=3, set_as_default=False)
        with Client(address, security=security, timeout=10, set_as_default=False) as client:
            assert client.submit(os.getpid).result(timeout=30) != os.getpid()
            worker = next(iter(client.scheduler_info()["workers"].values()))
            for port in (client.scheduler_info()["services"]["dashboard"],
                         worker["services"]["dashboard"]):  # fmt: skip
                with pytest.raises(HTTPError):
                    urlopen(f"http://127.0.0.1:{port}/health", timeout=5)


def test_workers_of_a_batch_are_closed_too() -> None:
    with open_workers(count=1) as workers:
        address = workers._client.scheduler.address
        assert address.startswith("tls://")
        with pytest.raises((OSError, TimeoutError)):
            Client(address.replace("tls://", "tcp://"), timeout=3, set_as_default=False)
