"""Repair: findings to edits in the source's bytes, and the proof that the copy is as good."""
