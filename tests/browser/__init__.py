"""The pages of `--report` in a real browser: `python -m tests.browser`, not for pytest."""
