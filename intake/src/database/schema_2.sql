-- Version 2: the list tells of each request whether another takes its place.
CREATE INDEX requests_by_replaced ON requests (sender, replaces) WHERE replaces IS NOT NULL;
