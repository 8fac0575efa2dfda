"""The date calculator judged by shadow shops: an adapter that shows it what a shop counted, and the record of its dates."""
