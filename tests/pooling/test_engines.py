"""Whoever asks the parts, the answer is the same: threads, processes, Dask, and Dask with a worker killed."""

import os
import signal
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from pools import kitchens, write_pool

import pairing
from pairing import Recipe
from pairing.pooling import folder as folders

distributed = pytest.importorskip("distributed")
pytestmark = pytest.mark.filterwarnings("ignore")  # of the engine, in its own threads


@pytest.fixture(scope="module")
def kitchen():
    return kitchens(0.7, n_bases=3, n_flavourings=8)


@pytest.fixture(scope="module")
def pool_folder(kitchen, tmp_path_factory):
    to = tmp_path_factory.mktemp("pool")
    write_pool(to, kitchen, 6, trials=15)
    return to


def answers(pool, kitchen):
    recipes = [Recipe(b, dict.fromkeys(f)) for b, f in kitchen(2000).combinations(2)]
    return pool.predict(recipes).to_numpy(), np.log(pool.needed_dose()["dose_g_per_kg"].to_numpy())


@pytest.fixture
def many_parts(monkeypatch):
    monkeypatch.setattr(folders, "PART_BYTES", 1)


def same(one, other):
    return all(np.allclose(a, b, rtol=0, atol=1e-10) for a, b in zip(one, other, strict=True))


def test_threads_give_the_same(pool_folder, kitchen, many_parts):
    alone = answers(pairing.learn_pooled(pool_folder, tasks=3), kitchen)
    with ThreadPoolExecutor(2) as executor:
        threads = answers(pairing.learn_pooled(pool_folder, map=executor.map, tasks=3), kitchen)
    assert same(alone, threads)


def test_a_worker_killed_in_mid_fit_changes_nothing(pool_folder, kitchen, many_parts, tmp_path):
    alone = answers(pairing.learn_pooled(pool_folder, tasks=3), kitchen)
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, local_directory=str(tmp_path)
    )
    killed = []

    def kill_one(progress):
        """Kill a worker once, when the needed doses are known and liking is next."""
        if progress.stage == "needed doses" and not killed:
            killed.append(next(iter(client.run(os.getpid).values())))
            os.kill(killed[0], signal.SIGKILL)

    with cluster, distributed.Client(cluster) as client:
        mapper = client.get_executor(retries=3, pure=False).map
        found = answers(pairing.learn_pooled(pool_folder, map=mapper, tasks=3, progress=kill_one), kitchen)
    assert killed
    assert same(alone, found)
