import pytest

# Its assertions say what they found, as those of the tests do.
pytest.register_assert_rewrite("tests.browser.seats")
