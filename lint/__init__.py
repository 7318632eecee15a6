"""The engine: bytes to Drawing to virtual cut to findings; it knows no rule by name.

Nothing is imported here, so that `matready --help` loads no geometry. Scripts start at
`matready.lint.runner.lint_bytes` with `matready.rules.RULES`.
"""
