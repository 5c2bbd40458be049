"""Models of the window."""

from PySide6.QtCore import QModelIndex, QPersistentModelIndex

Index = QModelIndex | QPersistentModelIndex
#: The parent of rows that have none.
NOWHERE = QModelIndex()
