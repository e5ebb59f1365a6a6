"""What the command line says, and where."""

from loosehand.cli.speech import say, warn, width_of_terminal


def test_results_and_sentences_go_apart(capsys):
    """Results go to the output, sentences to the error stream."""
    say("37 held")
    warn("no such file")
    assert capsys.readouterr() == ("37 held\n", "loosehand: no such file\n")


def test_a_sentence_is_one_line(capsys):
    """A sentence that came with line breaks is printed as one line."""
    warn("first\n  second\n\nthird ")
    assert capsys.readouterr().err == "loosehand: first second third\n"


def test_output_that_goes_elsewhere_is_80_columns_wide(capsys):
    """A pipe has no width of its own."""
    assert width_of_terminal() == 80
