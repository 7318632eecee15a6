"""Pieces of many files on the fewest mats: parts, papers, packing, proof, and what is written."""
