"""What every page has to hold: words on it, and none over another."""

import itertools


def words_of(figure):
    """Return the texts of a page with their boxes in pixels."""
    figure.draw_without_rendering()
    texts = [*figure.texts, *(text for axes in figure.axes for text in axes.texts)]
    for axes in figure.axes:
        texts += [axes.title, axes._left_title, axes.xaxis.label, axes.yaxis.label]
        if axes.axison:
            texts += [*axes.get_xticklabels(), *axes.get_yticklabels()]
    return [(text.get_text(), text.get_window_extent()) for text in texts if text.get_text()]


def check_words(figure):
    """Fail where a word leaves the page or covers another."""
    boxes = words_of(figure)
    for text, box in boxes:
        assert 0.0 <= box.x0 < box.x1 <= figure.bbox.x1, text
        assert 0.0 <= box.y0 < box.y1 <= figure.bbox.y1, text
    for (one, first), (other, second) in itertools.combinations(boxes, 2):
        across = min(first.x1, second.x1) - max(first.x0, second.x0)
        down = min(first.y1, second.y1) - max(first.y0, second.y0)
        # boxes of rows hold room for letters that none has; a pixel is a quarter of a point
        assert across <= 1.0 or down <= 2.0, (one, other)
