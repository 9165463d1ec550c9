"""Lessons: scenarios in an order, with texts, prompts to predict, and notes for who leads.

`lesson` is what a lesson is, with its bounds and its file; `typed` reads forms, `truths` works answers out and weighs
predictions, `shelf` keeps lessons, `shipped` holds those that come with Lightgap.
"""
