"""The pool of threads that all work is given to, and the one thread of linear algebra."""

from concurrent.futures import ThreadPoolExecutor

import pytest
import scipy.linalg  # noqa: F401  # its library has to be loaded to be told
from threadpoolctl import threadpool_info, threadpool_limits

from tailrace.studies.runner import Runner
from tailrace.threads import in_threads, linear_algebra_alone, thread_pool


def blas(_=None):
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}


def test_linear_algebra_has_one_thread_while_the_pool_works_and_its_own_again_behind_it():
    before = blas()
    with thread_pool(2) as pool:
        assert pool.submit(blas).result() == {1}
    assert in_threads(blas, [0, 1]) in ([{1}, {1}], [before, before])  # one thread: no pool
    assert blas() == before


@pytest.fixture
def two():
    with threadpool_limits(2, "blas"):
        if blas() != {2}:
            pytest.skip("linear algebra is built for one thread here")
        yield


def test_whoever_leaves_first_does_not_give_threads_to_those_who_stay(two):
    first, second = linear_algebra_alone(), linear_algebra_alone()
    first.__enter__()
    second.__enter__()
    first.__exit__(None, None, None)
    assert blas() == {1}
    second.__exit__(None, None, None)
    assert blas() == {2}


def test_a_failure_within_gives_them_back(two):
    with pytest.raises(KeyError), linear_algebra_alone():
        raise KeyError
    assert blas() == {2}


def test_threads_that_a_caller_brings_work_like_our_own(two):
    with ThreadPoolExecutor(2) as pool:
        found = Runner(pool).solved(blas, dict.fromkeys(range(4)))
    assert list(found.values()) == [{1}] * 4
    assert blas() == {2}
