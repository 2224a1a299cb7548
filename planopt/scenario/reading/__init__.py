"""Reading scenarios: files and entries become records, and every fault is gathered."""
