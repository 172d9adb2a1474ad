"""What an editor shows of a formula while it is typed.

Everything but `server` is plain functions of a text: places count from 1 in Unicode code points, as everywhere else.
Only `server` knows the protocol, and it alone needs the extra `lsp`.
"""
