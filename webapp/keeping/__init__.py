"""What people keep under links of their own: documents with revisions, notes, scenarios that are kept.

`documents` keeps anything of a known kind, `notes` turns what people write into safe markup.
"""
