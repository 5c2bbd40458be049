"""Why a trace was judged so, and what traces share."""
