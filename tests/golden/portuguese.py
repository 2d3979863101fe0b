"""The shipped room as a family in Lisbon would have it: its language, and its rows' own reasons."""

from __future__ import annotations

from simulator.shipped import DEMO_ROOM

REASONS = {
    "Menus carry text and circles to the frame's edge, and whoever chooses wants light.": (
        "Os menus têm texto e círculos até à margem, e quem escolhe quer luz."
    ),
    "A game is shown as it is, where the lens happens to stand.": (
        "Um jogo é mostrado como é, onde a lente estiver."
    ),
    "A title that changes its shape is shown whole, so that nothing moves any more.": (
        "Um filme que muda de formato é mostrado inteiro, para que nada mais se mova."
    ),
    "The lines stand in the bar below the picture, which is not on this screen.": (
        "As legendas estão na barra por baixo da imagem, que não cabe neste ecrã."
    ),
    "It fills the screen.": "Enche o ecrã.",
    "The unlit sides are narrow, and circles stay within the limit.": (
        "As margens escuras são estreitas, e os círculos quase não se alteram."
    ),
    "Photographs have all shapes, and whoever tells of them wants to be seen.": (
        "As fotografias têm todos os formatos, e quem fala delas quer ser visto."
    ),
    "A match is watched in company, and nobody leaves it to fit panels.": (
        "Um jogo vê-se em companhia, e ninguém sai dele para colocar painéis."
    ),
    "So the ident before an episode, the episode and the menu after it have one size.": (
        "Assim a abertura, o episódio e o menu que se segue têm o mesmo tamanho."
    ),
    "Nobody leaves the guests to fit panels, so the sides stay as they are.": (
        "Ninguém deixa as visitas para colocar painéis, por isso os lados ficam como estão."
    ),
    "The long end of the zoom is brighter here, and panels keep the sides black.": (
        "Assim a imagem fica mais luminosa, e os painéis mantêm os lados pretos."
    ),
    "Nobody is free to fit panels, so the sides stay as they are.": (
        "Ninguém pode colocar os painéis, por isso os lados ficam como estão."
    ),
    "No rule speaks of this shape, so it is shown plain where the lens stands.": (
        "Nenhuma regra fala deste formato: é mostrado sem alterações onde a lente está."
    ),
}
"""Every reason of a row in the shipped room, and the same in Portuguese."""


def portuguese_room() -> str:
    """Give the shipped room's file, spoken in Portuguese."""
    text = DEMO_ROOM.read_text("utf-8").replace("\n\nscreen:", "\nlanguage: pt\n\nscreen:", 1)
    rules, end, promises = text.partition("\npromises:")
    for english, portuguese in REASONS.items():
        assert f"because: {english}\n" in rules, english
        rules = rules.replace(f"because: {english}\n", f'because: "{portuguese}"\n')
    return rules + end + promises
