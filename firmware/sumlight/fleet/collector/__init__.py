"""The collector: records of many boxes in one database, each once, in the order in which its box wrote them."""
