"""The front: what `import planopt` gives, a function for each command and what these return."""
