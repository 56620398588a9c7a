"""Work shared among threads is the work of one."""

import numpy as np
import pyarrow as pa
import pytest

from reach.base import threads


@pytest.mark.parametrize("cores", [1, 2, 3, 7])
@pytest.mark.parametrize("rows", [0, 1, 5, 1000])
def test_sorted_is_sorted_by_however_many(monkeypatch, cores, rows):
    monkeypatch.setattr(threads, "_LARGE", 1)
    monkeypatch.setattr(pa, "cpu_count", lambda: cores)
    values = np.random.default_rng(rows).integers(-50, 50, rows)
    truth = sorted(values.tolist())
    threads.sort(values)
    assert values.tolist() == truth


@pytest.mark.parametrize("cores", [1, 2])
def test_runs_that_are_in_order_are_merged_at_once(monkeypatch, cores):
    def refuse(*_):
        raise AssertionError("cut into parts, though nearly in order")

    monkeypatch.setattr(threads, "_LARGE", 1)
    monkeypatch.setattr(pa, "cpu_count", lambda: cores)
    monkeypatch.setattr(threads, "each", refuse)
    values = np.tile(np.arange(50), 20)
    threads.sort(values)
    assert values.tolist() == np.repeat(np.arange(50), 20).tolist()


def test_results_come_in_order_and_errors_come_through():
    assert threads.each(lambda n: n * n, range(50)) == [n * n for n in range(50)]
    with pytest.raises(ZeroDivisionError):
        threads.each(lambda n: 1 // (n - 7), range(50))


def test_what_nobody_waits_for_is_not_begun(monkeypatch):
    monkeypatch.setattr(pa, "cpu_count", lambda: 1)
    begun = []
    with threads.begun(begun.append, range(100_000)) as found:
        next(found)
    assert len(begun) < 100_000


@pytest.mark.parametrize("rows", [0, 1_000_000])
def test_what_is_made_at_once_has_its_name_and_place(rows):
    made = threads.named({name: (lambda name=name: name.upper()) for name in "dbca"}, rows)
    with pytest.raises(ZeroDivisionError):
        threads.named({"a": str, "b": lambda: 1 // 0, "c": lambda: [][0]}, rows)
    assert list(made.items()) == [("d", "D"), ("b", "B"), ("c", "C"), ("a", "A")]


@pytest.mark.parametrize("cores", [1, 3])
@pytest.mark.parametrize("rows", [0, 1, 9, 10, 11, 95])
def test_what_is_filled_block_by_block_is_what_one_call_makes(monkeypatch, cores, rows):
    monkeypatch.setattr(threads, "_BLOCK", 10)
    monkeypatch.setattr(pa, "cpu_count", lambda: cores)
    values = np.random.default_rng(rows).integers(-50, 50, rows)
    found = threads.filled(lambda part: values[part] * 3, rows, np.int32)
    assert found.dtype == np.int32 and found.tolist() == (values * 3).tolist()
