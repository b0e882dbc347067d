"""Words that logs write for states: on and off, came and gone, known and unknown, good and bad. Lower case.

Languages: English, German, French, Spanish, Italian, Portuguese, Polish, Dutch (from memory; common practice).
Only whole cells are compared. A word that stands here for nothing, or for two things, is never guessed.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final


def words_of(text: str) -> frozenset[str]:
    """The words of a text; an underscore stands for a blank inside one."""
    return frozenset(word.replace("_", " ") for word in text.split())


ON_WORDS: Final = words_of(
    """true on yes closed active activated high set energized energised engaged enabled running
    start resume
    ein an wahr ja aktiv geschlossen gesetzt eingeschaltet angezogen
    vrai oui marche actif active activé activée fermé fermée en_marche enclenché
    verdadero sí si encendido encendida activo activa activado activada cerrado conectado
    vero sì acceso accesa attivo attiva attivato chiuso inserito
    verdadeiro sim ligado ligada ativo ativa ativado ativada fechado
    prawda tak wł wł. włączony włączona włączone włącz zał zał. załączony załączona załączone aktywny aktywna zamknięty
    waar aan actief gesloten"""
)
OFF_WORDS: Final = words_of(
    """false off no open inactive deactivated low reset de-energized de-energised deenergized disengaged disabled
    stopped
    complete suspend
    aus falsch nein inaktiv offen geöffnet zurückgesetzt ausgeschaltet abgefallen
    faux non arrêt arret inactif inactive désactivé désactivée ouvert ouverte à_l'arrêt déclenché
    falso apagado apagada inactivo inactiva desactivado desactivada abierto desconectado
    spento spenta inattivo inattiva disattivato aperto disinserito
    não nao desligado desligada inativo inativa desativado desativada aberto
    fałsz nie wył wył. wyłączony wyłączona wyłączone wyłącz nieaktywny nieaktywna otwarty
    onwaar nee uit inactief"""
)
"""A contact is on when it is closed."""
UNKNOWN_WORDS: Final = words_of(
    """? ?? ??? - -- --- n/a na nan null none unknown unbekannt inconnu desconocido desconocida sconosciuto desconhecido
    nieznany nieznana bad invalid ungültig invalide inválido non_valido nieważny #n/a error timeout no_data undefined"""
)
"""Spellings of 'not known': the row is understood, the state is unknown."""

LETTER_PAIRS: Final = (
    ("t", "f"),  # true, false
    ("y", "n"),  # yes, no
    ("j", "n"),  # ja, nein
    ("o", "n"),  # oui, non
    ("s", "n"),  # sí, sim, sì; no, não
    ("v", "f"),  # vero, vrai, verdadero, verdadeiro; falso, faux
    ("w", "f"),  # wahr, falsch
    ("p", "f"),  # prawda, fałsz
    ("h", "l"),  # high, low
    ("i", "o"),  # the marks of a switch
    ("e", "a"),  # ein, aus
    ("a", "i"),  # active, inactive
)
"""Letters for on and off: they count only where the letters of a whole column fit, and in one way."""

CAME_WORDS: Final = words_of(
    """c + 1 came come comes coming in incoming on active alm alarm raised occurred appeared set start started begin
    beginning
    true k kommt kommend gekommen ein an aktiv wahr beginn
    apparition apparu apparue arrivée arrivé début actif entrée entrada entra activo activado aparece aparecido
    aparición inicio
    attivo attivato inizio comparso arrivo entrato ativo ativado entrou início przyszedł przyszło wystąpił początek
    aktywny pojawił_się komt op"""
)
GONE_WORDS: Final = words_of(
    """g - 0 gone goes going out outgoing off inactive rtn normal cleared disappeared reset ended end return_to_normal
    false geht gehend gegangen aus inaktiv falsch ende
    disparition disparu disparue départ parti fin inactif sortie sale salida inactivo desactivado desaparece
    desaparecido fin
    disattivato inattivo fine scomparso uscito rientrato inativo desativado saiu fim odszedł odeszło ustąpił koniec
    nieaktywny ustąpienie gaat af"""
)
ACKNOWLEDGED_WORDS: Final = words_of(
    """a q ack acked acknowledge acknowledged acknowledgement acknowledgment acknowledges confirmed accepted
    quit quittiert quittierung bestätigt acquitté acquittée acquittement acq reconocido reconocida reconocimiento
    confirmado confirmada riconosciuto riconosciuta tacitato tacitata conferito reconhecido reconhecida
    potwierdzony potwierdzona potwierdzone potwierdzenie bevestigd"""
)
"""State of a message: it begins, it ends, somebody has seen it. The last is neither a beginning nor an end."""
COMBINED: Final = MappingProxyType(
    {
        **dict.fromkeys(("ca", "ka", "kq", "cq", "ack_alm", "unack_alm", "alm_ack", "alm_unack", "c/a", "k/q"), 1.0),
        **dict.fromkeys(("cg", "kg", "cga", "cag", "kgq", "kqg", "ga", "gq", "c/g", "k/g"), 0.0),
        **dict.fromkeys(("ack_rtn", "unack_rtn", "rtn_ack", "rtn_unack"), 0.0),
    }
)
"""States that carry whether the message is acknowledged as well: it lasts until its end."""

GOOD_WORDS: Final = words_of(
    """good ok okay valid true gut gültig bon bonne valide bueno buena válido válida buono buona valido valida
    bom boa dobry dobra dobre ważny poprawny goed geldig"""
)
BAD_WORDS: Final = words_of(
    """bad invalid uncertain false not_ok nok questionable stale comm_fail comm_failure last_known offline schlecht
    ungültig
    unsicher gestört mauvais mauvaise invalide incertain malo mala inválido inválida incierto cattivo incerto non_valido
    mau má incerto zły zła złe niepewny nieważny slecht ongeldig"""
)
"""Quality of a value."""
