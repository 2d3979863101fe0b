"""The sentences that people read, a file for each language.

Everything that a family reads from roomcue stands in `en.ftl` and in a file of the same shape for
each further language, under a code that never changes. A new language is one new file: copy
`en.ftl` to a name such as `fr.ftl` and translate it. A test says what is missing in it.
"""
