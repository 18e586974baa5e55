"""Accuracy on simulated scenes: one command each, results committed beside the code."""
