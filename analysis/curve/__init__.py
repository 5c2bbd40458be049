"""One tightening curve to points and zones; estimators that do not know each other."""
