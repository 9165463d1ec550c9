"""Addresses: each handler parses, asks the engine, presents and renders."""
