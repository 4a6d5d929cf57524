"""The workshop's own page: a local app over the desk, without trade knowledge of its own.

``html`` makes elements, ``frame`` what every page has around it, ``pages`` are the pages, ``look`` their style sheet
and scripts, ``guard`` and ``passphrase`` keep strangers out, ``serving`` serves it. The reader's language is spoken by
:mod:`ringwright.words`.
"""
