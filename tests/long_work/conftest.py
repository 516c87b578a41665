from tests.long_work.work_cases import known_kind

__all__ = ["known_kind"]  # a fixture
