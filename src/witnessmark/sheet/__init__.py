"""What the maker carries to the machine: pictures and the bench sheet.

May live here: drawings and the typst pages. May not: anything computed anew; it shows what plan and proof found.
"""
