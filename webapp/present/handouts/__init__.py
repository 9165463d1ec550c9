"""Hand-outs of a stage, to print: a worksheet, its answers, a design report."""
