"""The pool of threads that all work is given to."""

from threadpoolctl import threadpool_info

from tailrace.threads import in_threads, thread_pool


def blas(_=None):
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}


def test_linear_algebra_has_one_thread_while_the_pool_works_and_its_own_again_behind_it():
    before = blas()
    with thread_pool(2) as pool:
        assert pool.submit(blas).result() == {1}
    assert in_threads(blas, [0, 1]) in ([{1}, {1}], [before, before])  # one thread: no pool
    assert blas() == before
