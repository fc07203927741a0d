"""Articles: Markdown as reviewers write it, its numbers bound to the catalogue, its claims tested.

bindings        the grammar of (= ... =)
evidence        names in a text to subjects, groups and comparisons
quotes          what a binding says and what must stand beside it
observations    prices, surfaces, power and features to words
mix_runs        names in a text to runs with several clients
mix_quotes      shares, waiting times, stalls and ends of such runs to words
mix_claims      that one device copes better than another
mix_candidates  what of such runs a typed number may be
blocks          charts and tables that other pages have, too
quoting         all other bindings to words, in the digits of the pages; frozen quotes
claims          what the tests carry
markdown_text   Markdown to sanitised HTML with marks
pictures        the pictures of a text
typed_numbers   numbers nobody bound
bound_article   all of it for one article
"""
