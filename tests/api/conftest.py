"""What of the API's tests is not even read in a run that would leave it out."""

from tests.conftest import LONG, ON_POSTGRES

# Reading it makes six seconds' worth of requests from the description, in each process; it runs on PostgreSQL each day.
collect_ignore = [] if ON_POSTGRES or LONG else ["test_from_description.py"]
