"""A year of the record at default rates fits its budget."""

from pathlib import Path

from tests.benchmarks.journal_size import LIMIT_MB, projected


def test_a_year_at_default_rates_stays_under_its_limit_with_a_month_of_telemetry_waiting(tmp_path: Path) -> None:
    found = projected(0.125, tmp_path, first_second=10 * 3600)
    assert found.year_mb > 50.0  # it did write
    assert found.year_mb + found.away_mb < LIMIT_MB
