"""What only a person knows: asked once, kept under `sources` in `house.yaml`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Question:
    """`key` is what the answer is kept under; `best` is the likeliest answer, empty where there is none.

    Without `choices` any text is an answer. `said` is what was understood so far, to be read before it.
    """

    key: str
    text: str
    choices: tuple[str, ...] = ()
    best: str = ""
    said: tuple[str, ...] = ()


Ask = Callable[[Question], str]


@dataclass(slots=True)
class Asker:
    """Answers known, answers given now, and what is still open.

    `ask` speaks to a person, None where nobody is there; with `is_yes` the best answer is taken instead and
    noted as a guess.
    """

    known: Mapping[str, str]
    ask: Ask | None = None
    is_yes: bool = False
    given: dict[str, str] = field(default_factory=dict)
    guessed: dict[str, str] = field(default_factory=dict)
    open: list[Question] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)

    def settle(self, question: Question) -> str:
        """The answer; where nobody gives one the best reading, and empty where there is none."""
        key = question.key
        for answers in (self.given, self.guessed, self.known):
            if key in answers:
                return answers[key]
        if self.is_yes and question.best:
            self.guessed[key] = question.best
            return question.best
        if self.ask is not None and not self.is_yes:
            if answer := self.ask(question).strip() or question.best:
                self.given[key] = answer
                self.asked.add(key)
            return answer
        if all(one.key != key for one in self.open):
            self.open.append(question)
        return question.best

    def is_guess(self, key: str) -> bool:
        """Whether nobody has answered a question, so that its best reading is taken."""
        return key in self.guessed or any(one.key == key for one in self.open)
