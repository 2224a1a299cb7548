"""Cook day: when each dish is cooked and with what, and what goes in which container."""
