"""The trade's words for signals in seven languages, and the letter codes of circuit diagrams: data, in one place.

Words are written without accents (see `names.fold`); several words in one entry stand for a phrase. Sources: common
usage of crane and hoist documentation; letter codes: IEC 81346-2 and its predecessors, as used in circuit diagrams.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

WORDS: Final = MappingProxyType(
    {
        # motions
        "hoist": "hoist hoisting lifting winch hubwerk hub hw hebezeug winde levage treuil palan elevacion izaje"
        " polipasto cabrestante sollevamento argano paranco elevacao guincho talha wciagnik wciagarka podnosnik",
        "trolley": "trolley|crab|cross travel|cross traverse|ct|katze|laufkatze|katzfahrt|katzfahren|katzfahrwerk"
        "|chariot|carro|carrinho|carrello|wozek|wozka|jazda wozka|troley",
        "bridge": "bridge|gantry|long travel|lt|crane travel|kran|kranfahrt|kranfahren|kranfahrwerk|bruecke|brucke|pont"
        "|translation|puente|ponte|most|mostu|suwnica|suwnicy|portico|crane",
        # directions
        "raise": "raise up upwards upper lift heben hoch auf auffahrt oben monter montee hisser lever haut"
        " subir subida ascenso elevar arriba superior salita salire su alto alzare icar subindo acima cima"
        " podnoszenie podnies gora gorny gorna gore w_gore aufwaerts aufwarts",
        "lower": "lower down downwards lowering senken ab runter nieder tief unten descendre descente baisser bas"
        " bajar bajada descenso abajo inferior discesa scendere giu basso descer descida abaixo baixo baixar"
        " opuszczanie opusc dol dolny dolna w_dol abwaerts abwarts bottom",
        "left": "left links gauche izquierda izq izda sinistra sx esquerda esq lewo lewa lewy w_lewo li",
        "right": "right rechts droite derecha dcha destra dx direita dir prawo prawa prawy w_prawo re",
        "forward": "forward forwards fwd vor vorwaerts vorwarts voraus avant adelante avanzar avanti frente avante"
        " przod naprzod do_przodu",
        "reverse": "reverse rev backward backwards back rueckwaerts ruckwarts zurueck zuruck arriere recul atras"
        " retroceder indietro tras re_marcha recuar tyl wstecz do_tylu rueck ruck",
        "fast": "fast|high speed|second speed|speed 2|step 2|schnell|schnellgang|eilgang|schnellstufe|stufe 2"
        "|schnellhub"
        "|rapide|grande vitesse|gv|pv gv|vitesse 2|rapido|rapida|alta velocidad|velocidad 2|marcha rapida|veloce"
        "|alta velocita|velocita 2|alta velocidade|velocidade 2|szybko|szybki|szybka|szybkie|predkosc 2|bieg 2"
        "|haupthub|quick",
        "slow": "slow|creep|low speed|langsam|feinhub|feingang|stufe 1|lent|lente|petite vitesse|despacio|lento|lenta"
        "|baja velocidad|bassa velocita|baixa velocidade|wolno|wolny|wolna|speed 1|step 1|vitesse 1",
        # kinds of a motion
        "command": "command|cmd|button|push button|pushbutton|pb|pendant|request|call|befehl|taster|taste|bef"
        "|ansteuerung"
        "|anforderung|sollwert|commande|ordre|bouton|poussoir|bp|consigne|mando|orden|pulsador|boton|peticion|comando"
        "|pulsante|richiesta|ordem|botao|botoeira|polecenie|rozkaz|przycisk|zadanie|kaseta|demand",
        "contactor": "contactor|run|running|output|feedback|fb|fbk|drive|motor on|schuetz|schutz|schuetze|ausgang"
        "|rueckmeldung|ruckmeldung|rm|laeuft|lauft|betrieb|contacteur|sortie|retour|marche|relais|contattore"
        "|teleruttore"
        "|uscita|ritorno|salida|marcha|rele|contator|retorno|saida|stycznik|wyjscie|potwierdzenie|relay|aux|energised",
        "limit": "limit|limit switch|end switch|end stop|end limit|final limit|lim|ls|endschalter|endlage|endsch|es"
        "|grenztaster|grenzschalter|notendschalter|fin de course|fdc|final de carrera|fin de carrera|fc|limite"
        "|fine corsa"
        "|finecorsa|fim de curso|wylacznik krancowy|krancowka|krancowy|krancowe|lacznik krancowy|extreme",
        "slowdown": "slowdown|slow down|pre limit|prelimit|deceleration|vorendschalter|vorabschaltung|verzoegerung"
        "|vorendlage|umschaltpunkt|langsamschaltung|ralentissement|prefin de course|deceleracion|reduccion|pre final"
        "|rallentamento|preallarme finecorsa|desaceleracao|reducao|zwalnianie|spowolnienie|zwolnienie predkosci",
        "brake": "brake|brk|bremse|bremsen|haltebremse|hubbremse|br|frein|freno|freio|travao|hamulec|hamulca|luzownik",
        "released": "released|release|open|opened|lifted|free|off|gelueftet|geluftet|lueftet|lueften|luften|offen|auf"
        "|los"
        "|geoeffnet|geoffnet|desserre|debloque|ouvert|libere|liberado|abierto|suelto|sbloccato|rilasciato|aperto"
        "|libero|aberto|solto|desaplicado|zwolniony|otwarty|odhamowany|zluzowany|frei|desserrage|lueft",
        "applied": "applied|closed|engaged|set|eingefallen|geschlossen|zu|serre|ferme|aplicado|cerrado|chiuso|frenato"
        "|fechado|zamkniety|zacisniety|zahamowany|angelegt",
        "hot": "thermistor|motor hot|overtemperature|over temperature|overtemp|ptc|klixon|hot|thermal|kaltleiter"
        "|uebertemperatur|ubertemperatur|thermofuehler|motorschutz|motortemperatur|thermistance|sonde thermique"
        "|surchauffe|sonde moteur|termistor|sobretemperatura|sonda termica|termistore|sovratemperatura|termica motore"
        "|sobreaquecimento|temperatura motor|przegrzanie|czujnik ptc|termik|heiss",
        # the machine as a whole
        "overload": "overload|ovl|over load|load limit|load limiter|lastbegrenzer|ueberlast|uberlast|ueberlastung"
        "|ueberlastsicherung|lastgrenze|surcharge|limiteur de charge|sobrecarga|limitador de carga|sovraccarico"
        "|limitatore di carico|limitador|przeciazenie|przeciazenia|ogranicznik udzwigu|ogranicznik obciazenia"
        "|overloaded|hsi|swl exceeded",
        "warning": "warning|warn|pre warning|prewarning|vorwarnung|warnung|alarme|prealarme|avertissement|aviso"
        "|prealarma"
        "|preavviso|preallarme|ostrzezenie|90",
        "trip": "trip|tripped|cut|cutout|cut out|abschaltung|ausgeloest|ausgelost|declenche|declenchement|disparo|corte"
        "|intervento|scatto|disparado|zadzialanie|wylaczenie",
        "fault": "fault|failure|error|fehler|stoerung|storung|defaut|panne|fallo|averia|falla|guasto|anomalia|falha"
        "|avaria"
        "|awaria|usterka|blad",
        "slack": "slack|slack rope|slack chain|rope slack|slackrope|schlaffseil|schlappseil|schlaffseilschalter"
        "|schlaffkette|mou de cable|cable mou|mou|cable flojo|cable destensado|flojo|fune lenta|fune allentata"
        "|allentamento fune|cabo frouxo|cabo folgado|frouxo|luzna lina|luz liny|zwis liny|poluzowanie liny",
        "emergency": "emergency stop|emergency|estop|e stop|e_stop|emcy|emstop|not aus|notaus|not halt|nothalt"
        "|nothaltkreis|arret urgence|arret d urgence|aru|parada de emergencia|paro de emergencia|paro emergencia"
        "|parada emergencia|seta de emergencia|emergencia|arresto di emergenza|arresto emergenza|emergenza"
        "|fungo emergenza|paragem de emergencia|botao de emergencia|stop awaryjny|wylacznik awaryjny"
        "|zatrzymanie awaryjne|awaryjny|grzybek",
        "supply": "control supply|control voltage|control power|supply control|supply|mains contactor|main contactor"
        "|steuerspannung|hauptschuetz|hauptschutz|netzschuetz|steuerung ein|kranschalter|tension de commande"
        "|tension commande|contacteur general|contacteur de ligne|alimentation|tension de mando|tension de control"
        "|tension mando|contactor general|contactor de linea|tensione comandi|tensione di comando|tensione ausiliari"
        "|tensione ausiliaria|contattore di linea|contattore generale|tensao de comando|tensao comando|contator geral"
        "|alimentacao|napiecie sterowania|napiecie sterownicze|stycznik glowny|zasilanie|control on",
        "phase": "phase|phase fault|phase failure|phase loss|phase sequence|phasenausfall|phasenfehler|phasenfolge"
        "|phasenueberwachung|netzueberwachung|defaut de phase|manque de phase|controle de phase|fallo de fase"
        "|falta de fase|perdida de fase|mancanza fase|mancanza di fase|sequenza fasi|zanik fazy|kolejnosc faz"
        "|czujnik fazy|undervoltage|unterspannung",
        "reset": "reset|acknowledge|ack|quittieren|quitt|quittierung|entsperren|rearmement|acquittement|acquit|rearme"
        "|reconocimiento|ripristino|riarmo|conferma|rearmar|kasowanie|skasuj",
        # numbers
        "load": "load|weight|mass|last|gewicht|hakenlast|charge|poids|carga|peso|carico|obciazenie|ciezar|masa|udzwig",
        "current": "current|amps|strom|motorstrom|courant|corriente|intensidad|corrente|prad|pradu",
        "height": "height|hook height|hoehe|hohe|hakenhoehe|hubhoehe|hauteur|altura|altezza|wysokosc|hook position",
        "speed": "speed|velocity|geschwindigkeit|drehzahl|vitesse|velocidad|velocita|velocidade|predkosc",
        "position": "position|posicion|posizione|posicao|pozycja|weg",
        "temperature": "temperature|temp|temperatur|temperatura",
        # what turns a meaning round
        "healthy": "ok|healthy|nc|normally closed|not operated|oeffner|offner|bereit|in ordnung|io|gesund|no fault|inv"
        "|inverted|negiert|nf|sano|correcto",
    }
)
"""Concept -> its words, divided by '|', or by blanks where no phrase is among them; '_' stands for a blank."""

LETTERS: Final = MappingProxyType(
    {
        "K": ("contactor", "supply", "overload", "fault", "phase"),
        "Q": ("contactor", "supply"),
        "KM": ("contactor", "supply"),
        "QA": ("contactor", "supply"),
        "S": ("command", "limit", "slowdown", "emergency", "slack", "reset", "brake"),
        "SB": ("command", "emergency", "reset"),
        "SF": ("command", "emergency", "reset"),
        "SQ": ("limit", "slowdown", "slack", "brake"),
        "B": ("brake", "limit", "slowdown", "overload", "slack", "hot", "load", "height", "speed"),
        "BG": ("brake", "limit", "slowdown", "slack"),
        "F": ("hot", "overload", "phase", "fault"),
        "FT": ("hot",),
        "P": ("load", "current", "height", "speed"),
        "BW": ("load", "overload"),
        "RT": ("hot",),
    }
)
"""Letter code of a circuit diagram, before a number -> the kinds it may be; never a direction.

K, KM: contactors and relays (EN 60750); Q, QA: power switching (IEC 81346-2); S, SB, SF: hand and limit switches;
SQ: position switches; B, BG: sensors; F, FT: protection; P: measuring; M and Y (motor, brake coil) tell nothing."""
