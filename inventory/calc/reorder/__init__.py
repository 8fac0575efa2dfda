"""When to order and how much: demand over the lead time, the reorder point, one item's decision, its run-down."""
