"""Tests that look at pages in Chromium."""
