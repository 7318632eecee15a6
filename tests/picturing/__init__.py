"""Pictures for the rules' pages: a drawing of the fixtures on each side of a rule, and what tells.

`chosen` says which drawings and how they are looked at, `panels` draws one view of one, `pictures`
puts views side by side.
"""
