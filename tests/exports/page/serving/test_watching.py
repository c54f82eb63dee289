"""When a change of the file is read."""

from exports.page.serving.watching import READ_EACH, Watch, poll_mark

OLD, HALF, NEW = (10, 1, 7), (3, 2, 7), (12, 3, 8)


def polls(*marks):
    watch, read = Watch(OLD, OLD), []
    for mark in marks:
        watch, due = poll_mark(watch, mark)
        read.append(due)
    return read


def test_a_change_is_read_once_it_stands_for_a_poll():
    assert polls(OLD, NEW, NEW, NEW) == [False, False, True, False]


def test_what_is_being_written_is_waited_for():
    assert polls(HALF, NEW, NEW) == [False, False, True]


def test_a_file_that_is_put_back_at_once_never_went():
    assert polls(None, NEW, NEW) == [False, False, True]
    assert polls(None, None) == [False, True]


def test_an_unchanged_mark_is_read_now_and_then():
    assert polls(*[OLD] * (READ_EACH + 1)).count(True) == 1
