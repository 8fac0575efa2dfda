"""Start, test and keep the service: the scripts beside this file and the few modules they share."""
