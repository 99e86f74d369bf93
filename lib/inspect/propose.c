/* Proposals: see propose.h.  A name is cut into words, words and unit become ideas (bits), and a table
 * of rules says which ideas make a channel. */
#include "inspect/propose.h"

#include "samples/channels.h"

#include <stdint.h>
#include <string.h>

/* Ideas and the words for them: English, German, French, Italian, Spanish; umlauts and accents as
 * ae, e.  `*` = anything may stand there. */
#define IDEAS(X)                                                                                   \
    X(BRAKE, "brake* braking brk brks *brems* frein* freno* frenad* frenat*")                      \
    X(PRESSURE, "press* prs *druck* presion*")                                                     \
    X(FRONT, "front* frt f vorn* vorder* va avant anterior* delant*")                              \
    X(REAR, "rear* hinten hinter* ha arriere posterior* traser*")                                  \
    X(LEFT, "left lh links gauche sinistr* izquierd*")                                             \
    X(RIGHT, "right rh rechts droit* destr* derech*")                                              \
    X(FL, "fl lf vl avg")                                                                          \
    X(FR, "fr rf vr avd")                                                                          \
    X(RL, "rl lr hl arg")                                                                          \
    X(RR, "rr hr ard")                                                                             \
    X(PEDAL, "pedal* ped")                                                                         \
    X(MASTER, "master* mc tmc hauptbrems* maitre* pompa*")                                         \
    X(LINE, "line* caliper* calliper* *leitung* *sattel* etrier* pinza*")                          \
    X(MOTOR, "motor* emotor mot mgu inv inverter* moteur* umrichter* onduleur* machine")           \
    X(TORQUE, "torque* trq tq *moment *momento couple coppia par")                                 \
    X(ACTUAL, "act actual* feedback* fb fbk meas* ist *istwert* mesure* misurat* medid*")          \
    X(REQUEST, "req request* cmd command* demand* target* tgt setpoint* soll* *sollwert* ref "     \
               "consigne* richiest* desired")                                                      \
    X(SPEED, "speed* spd vel velocit* *geschwindigkeit* vitesse* velocidad* vx vy")                \
    X(RPM, "rpm *drehzahl* revs omega regime giri")                                                \
    X(WHEEL, "wheel* whl rad raddreh* roue* ruota* rueda*")                                        \
    X(VEHICLE, "veh vehicle* car ground gps fahrzeug* vehicul* veicolo* vx")                       \
    X(ACCEL, "acc accel* acel* beschl* *beschleunigung* ax ay")                                    \
    X(ALONG, "longitudinal* long x ax vx laengs* longi")                                           \
    X(ACROSS, "lateral* lat y ay vy quer* trasv*")                                                 \
    X(LAP, "lap laps lapno lapn* runde* tour tours giro vuelta*")                                  \
    X(DISTANCE, "dist* *strecke*")                                                                 \
    X(LATITUDE, "latitud* lat breitengrad* geobreite")                                             \
    X(LONGITUDE, "longitude* longitud lon lng long laengengrad* geolaenge")                        \
    X(TEMPERATURE, "temp* *temperatur*")                                                           \
    X(DISC, "disc discs disk disks rotor* *scheibe* disque* disco")                                \
    X(VOLTAGE, "volt* *spannung* tension* tensione*")                                              \
    X(CURRENT, "current* curr *strom* courant* corrente* corriente*")                              \
    X(BATTERY, "bat batt* battery* batterie* bateria* hv bus pack akku* accu* dc")                 \
    X(TIME, "time* t ts zeit* *zeit temps tempo tiempo timestamp* utc epoch")                      \
    X(TRAVEL, "travel* stroke* *weg course* corsa* recorrido* pos position*")                      \
    X(FORCE, "force* *kraft* forza* fuerza* effort*")                                              \
    X(STATE, "state* status* mode fault* fallback* active flag zustand* etat* stato* estado*")     \
    X(WIRE, "wire bywire bbw")                                                                     \
    X(BIAS, "bias* balance* *verteilung* repartition* ripartiz* reparto*")                         \
    X(AMBIENT, "amb ambient* air outside aussen* umgebung* ambiant* exterieur* esterna*")          \
    X(OTHER,                                                                                       \
      "throttle* accelerator* gas steer* lenk* yaw gier* tyre* tire* reifen* damper* susp* "       \
      "oil oel water coolant* fuel gear* clutch* roll pitch wind* tps aps z vz az")

enum {
#define X(idea, words) BIT_##idea,
    IDEAS(X)
#undef X
        BITS
};
#define BIT(idea) ((uint64_t)1 << BIT_##idea)
#define CORNER    (BIT(FL) | BIT(FR) | BIT(RL) | BIT(RR))
#define AXLE      (BIT(FRONT) | BIT(REAR))

static const char *const words[BITS] = {
#define X(idea, text) text,
    IDEAS(X)
#undef X
};

/* What a unit tells by itself. */
static const struct {
    bt_dimension dimension;
    uint64_t idea;
} unit_ideas[] = {
    {BT_DIM_PRESSURE, BIT(PRESSURE)},
    {BT_DIM_TORQUE, BIT(TORQUE)},
    {BT_DIM_TEMPERATURE, BIT(TEMPERATURE)},
    {BT_DIM_VOLTAGE, BIT(VOLTAGE)},
    {BT_DIM_CURRENT, BIT(CURRENT)},
    {BT_DIM_ACCEL, BIT(ACCEL)},
    {BT_DIM_SPEED, BIT(SPEED)},
    {BT_DIM_ANGULAR_SPEED, BIT(RPM)},
    {BT_DIM_FORCE, BIT(FORCE)},
};

/* The first rule that fits wins.  Channels of a corner or an axle are given by their first one, the
 * others follow in the order fl fr rl rr, or front rear. */
typedef struct {
    unsigned channel; /* bt_channel, or TIME */
    uint64_t all, any, none;
    double sure;
    const char *doubt;
} rule;
enum { TIME = BT_CH_COUNT };

#define ROTATES (BIT(SPEED) | BIT(RPM) | BIT(WHEEL))
#define PEDALS  (BIT(PEDAL) | BIT(MASTER))
#define NO_AXLE (AXLE | CORNER)

static const rule rules[] = {
    {BT_CH_DISC_FL, CORNER | BIT(TEMPERATURE), BIT(DISC) | BIT(BRAKE), 0, 0.9, ""},
    {BT_CH_DISC_FL, AXLE | BIT(TEMPERATURE), BIT(DISC) | BIT(BRAKE), 0, 0.5, "left or right?"},
    {BT_CH_AMBIENT, BIT(AMBIENT) | BIT(TEMPERATURE), 0, BIT(BRAKE) | BIT(DISC), 0.8, ""},

    {BT_CH_LINE_FL, CORNER | BIT(PRESSURE), 0, BIT(REQUEST), 0.85, ""},
    {BT_CH_LINE_REQUEST, BIT(REQUEST) | BIT(PRESSURE), BIT(LINE) | BIT(REAR) | CORNER, PEDALS, 0.6,
     "is it what the rear actuator is asked for?"},
    {BT_CH_PEDAL_FRONT, AXLE | BIT(PRESSURE), PEDALS, BIT(REQUEST), 0.9, ""},
    {BT_CH_LINE_FRONT, AXLE | BIT(PRESSURE) | BIT(LINE), 0, BIT(REQUEST), 0.9, ""},
    {BT_CH_PEDAL_FRONT, BIT(FRONT) | BIT(PRESSURE) | BIT(BRAKE), 0, BIT(REQUEST), 0.75,
     "the front circuit's pressure, taken at the master cylinder"},
    {BT_CH_LINE_REAR, BIT(REAR) | BIT(PRESSURE) | BIT(BRAKE), 0, BIT(REQUEST), 0.5,
     "at the caliper (line_rear) or at the master cylinder (pedal_rear)?"},
    {BT_CH_PEDAL_FRONT, BIT(PRESSURE) | BIT(BRAKE) | BIT(REQUEST), 0, 0, 0.5,
     "asked for, not measured"},
    {BT_CH_PEDAL_FRONT, BIT(PRESSURE) | BIT(BRAKE), 0, 0, 0.5, "which circuit, at which end?"},
    {BT_CH_PEDAL_TRAVEL, BIT(PEDAL) | BIT(BRAKE) | BIT(TRAVEL), 0, 0, 0.85, ""},
    {BT_CH_PEDAL_FORCE, BIT(PEDAL) | BIT(BRAKE) | BIT(FORCE), 0, 0, 0.85, ""},

    {BT_CH_MOTOR_REQUEST, BIT(MOTOR) | BIT(TORQUE) | BIT(REQUEST), 0, 0, 0.75,
     "must be negative when it brakes (else scale -1)"},
    {BT_CH_MOTOR_TORQUE, BIT(MOTOR) | BIT(TORQUE) | BIT(ACTUAL), 0, 0, 0.85,
     "must be negative when it brakes (else scale -1)"},
    {BT_CH_MOTOR_TORQUE, BIT(MOTOR) | BIT(TORQUE), 0, 0, 0.6,
     "measured or asked for?  must be negative when it brakes (else scale -1)"},
    {BT_CH_MOTOR_SPEED, BIT(MOTOR), BIT(SPEED) | BIT(RPM), CORNER | BIT(WHEEL) | BIT(REQUEST), 0.85,
     ""},

    {BT_CH_WHEEL_FL, CORNER | BIT(WHEEL), BIT(SPEED) | BIT(RPM),
     BIT(TORQUE) | BIT(MOTOR) | BIT(REQUEST), 0.9, ""},
    {BT_CH_WHEEL_FL, CORNER, ROTATES, BIT(TORQUE) | BIT(MOTOR) | BIT(REQUEST), 0.8, ""},
    {BT_CH_MOTOR_SPEED, BIT(RPM), 0, ROTATES & ~BIT(RPM), 0.4, "of the motor?"},
    {BT_CH_SPEED, BIT(SPEED) | BIT(VEHICLE), 0,
     NO_AXLE | BIT(WHEEL) | BIT(MOTOR) | BIT(REQUEST) | BIT(ACROSS), 0.85, ""},
    {BT_CH_SPEED, BIT(SPEED), 0, NO_AXLE | BIT(WHEEL) | BIT(MOTOR) | BIT(REQUEST) | BIT(ACROSS),
     0.75, ""},
    {BT_CH_ACCEL_LONG, BIT(ACCEL) | BIT(ALONG), 0, 0, 0.8, "must be positive forward"},
    {BT_CH_ACCEL_LAT, BIT(ACCEL) | BIT(ACROSS), 0, 0, 0.8, ""},

    {BT_CH_BATTERY_VOLTAGE, BIT(VOLTAGE) | BIT(BATTERY), 0, 0, 0.8, "of the traction battery?"},
    {BT_CH_BATTERY_CURRENT, BIT(CURRENT) | BIT(BATTERY), 0, 0, 0.75,
     "must be positive when discharging"},
    {BT_CH_BATTERY_VOLTAGE, BIT(VOLTAGE), 0, 0, 0.4, "of the traction battery?"},
    {BT_CH_BATTERY_CURRENT, BIT(CURRENT), 0, 0, 0.4, "of the traction battery?"},
    {BT_CH_BYWIRE_STATE, BIT(STATE) | BIT(BRAKE), BIT(WIRE), 0, 0.7, "which value is good?"},
    {BT_CH_BYWIRE_STATE, BIT(STATE) | BIT(WIRE), 0, 0, 0.7, "which value is good?"},
    {BT_CH_BIAS_SETTING, BIT(BIAS) | BIT(BRAKE), 0, BIT(PRESSURE), 0.75, ""},
    {BT_CH_BIAS_SETTING, BIT(BIAS), 0, BIT(PRESSURE), 0.5, "of the brakes?"},

    {BT_CH_LAP_DISTANCE, BIT(LAP) | BIT(DISTANCE), 0, 0, 0.85, ""},
    {BT_CH_LAP_DISTANCE, BIT(DISTANCE), 0, 0, 0.4, "from the line, every lap anew?"},
    {BT_CH_LAP, BIT(LAP), 0, BIT(TIME), 0.8, ""},
    {BT_CH_LATITUDE, BIT(LATITUDE), 0, BIT(ACCEL) | BIT(SPEED) | BIT(FORCE), 0.85, ""},
    {BT_CH_LONGITUDE, BIT(LONGITUDE), 0, BIT(ACCEL) | BIT(SPEED) | BIT(FORCE), 0.85, ""},
    {TIME, BIT(TIME), 0, BIT(LAP) | BIT(BRAKE) | BIT(MOTOR), 0.9, ""},
};

/* A pattern of letters, `*` only at its ends. */
static bool fits(const char *pattern, size_t np, const char *word, size_t n)
{
    const bool open_left = np > 0 && pattern[0] == '*',
               open_right = np > 0 && pattern[np - 1] == '*';
    if (open_left) pattern++, np--;
    if (open_right) np--;
    if (np > n) return false;
    for (size_t at = 0; at + np <= n; at++) {
        if (at > 0 && !open_left) return false;
        if ((open_right || at + np == n) && memcmp(word + at, pattern, np) == 0) return true;
    }
    return false;
}

static uint64_t ideas_of_word(const char *word, size_t n)
{
    uint64_t ideas = 0;
    for (int bit = 0; bit < BITS; bit++)
        for (const char *p = words[bit]; *p;) {
            const size_t np = strcspn(p, " ");
            if (fits(p, np, word, n)) ideas |= (uint64_t)1 << bit;
            p += np;
            p += strspn(p, " ");
        }
    return ideas;
}

static bool lower(char c)
{
    return c >= 'a' && c <= 'z';
}

static bool upper(char c)
{
    return c >= 'A' && c <= 'Z';
}

/* Accented letters of UTF-8 (Latin-1 range) without accent, umlauts with an e. */
static const char *plain_letter(unsigned char second)
{
    static const char *const letters[32] = {
        "a", "a", "a", "a", "ae", "a", "ae", "c", "e", "e", "e", "e", "i",  "i", "i",  "i",
        "d", "n", "o", "o", "o",  "o", "oe", "",  "o", "u", "u", "u", "ue", "y", "th", "ss"};
    return letters[second & 0x1f];
}

/* Words end at anything but letters, before a capital behind a small letter, and before the last
 * capital of several if small letters follow (RLSpeed is RL Speed). */
static uint64_t ideas_of_name(const char *name)
{
    char word[64];
    size_t n = 0;
    uint64_t ideas = 0;
    for (const char *p = name;; p++) {
        const bool cut = upper(*p) && p > name && (lower(p[-1]) || (upper(p[-1]) && lower(p[1])));
        if (cut || (!lower(*p) && !upper(*p) && (unsigned char)*p != 0xc3)) {
            if (n > 0) ideas |= ideas_of_word(word, n);
            n = 0;
        }
        if (*p == '\0') return ideas;
        const char letter[2] = {upper(*p) ? (char)(*p - 'A' + 'a') : *p, '\0'};
        const char *text = lower(letter[0]) ? letter : "";
        if ((unsigned char)*p == 0xc3 && p[1]) text = plain_letter((unsigned char)*++p);
        for (; *text && n < sizeof word; text++) word[n++] = *text;
    }
}

/* "front left" is fl. */
static uint64_t join_corners(uint64_t ideas)
{
    if ((ideas & CORNER) || !(ideas & AXLE)) return ideas;
    const bool front = ideas & BIT(FRONT), left = ideas & BIT(LEFT), right = ideas & BIT(RIGHT);
    if (left == right || (ideas & AXLE) == AXLE) return ideas;
    return ideas | (front ? left ? BIT(FL) : BIT(FR) : left ? BIT(RL) : BIT(RR));
}

/* CORNER and AXLE in `all` ask for exactly one of theirs; *offset = which. */
static bool applies(const rule *r, uint64_t ideas, unsigned *offset)
{
    uint64_t all = r->all;
    *offset = 0;
    if ((all & CORNER) == CORNER) {
        const uint64_t corner = ideas & CORNER;
        all &= ~CORNER;
        if (corner == 0 || (corner & (corner - 1))) return false;
        *offset = corner == BIT(FR) ? 1 : corner == BIT(RL) ? 2 : corner == BIT(RR) ? 3 : 0;
    } else if ((all & AXLE) == AXLE) {
        const uint64_t axle = ideas & AXLE;
        all &= ~AXLE;
        if (axle == 0 || axle == AXLE) return false;
        const unsigned side = r->channel == BT_CH_DISC_FL ? 2 : 1;
        *offset = axle == BIT(REAR) ? side : 0;
    }
    return (ideas & all) == all && (r->any == 0 || (ideas & r->any)) && !(ideas & r->none);
}

/* The unit that a channel could be logged in; NULL = not in this one. */
static const bt_unit *unit_for(unsigned channel, const char *text)
{
    const bt_dimension dimension =
        channel == TIME ? BT_DIM_TIME : bt_channel_dimension((bt_channel)channel);
    const bt_unit *unit = bt_unit_find(text, strlen(text), dimension);
    if (!unit && channel >= BT_CH_WHEEL_FL && channel <= BT_CH_WHEEL_RR)
        unit = bt_unit_find(text, strlen(text), BT_DIM_ANGULAR_SPEED);
    return unit;
}

/* The capitals at the end: "KPH" of "SpeedKPH". */
static const char *last_word(const char *name)
{
    const char *end = name + strlen(name);
    while (end > name && upper(end[-1])) end--;
    return end;
}

bt_proposal bt_propose(const char *name, const char *unit)
{
    const bt_proposal none = {"", 0, "", ""};
    uint64_t ideas = ideas_of_name(name);
    for (size_t i = 0; i < sizeof unit_ideas / sizeof *unit_ideas; i++)
        if (*unit && bt_unit_find(unit, strlen(unit), unit_ideas[i].dimension))
            ideas |= unit_ideas[i].idea;
    ideas = join_corners(ideas);
    if (ideas & BIT(OTHER)) return none;
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        unsigned offset;
        if (!applies(&rules[i], ideas, &offset)) continue;
        const unsigned channel = rules[i].channel + offset;
        bt_proposal p = {channel == TIME ? "time" : bt_channel_name((bt_channel)channel),
                         rules[i].sure, "", rules[i].doubt};
        if (channel != TIME && bt_channel_dimension((bt_channel)channel) == BT_DIM_NONE) return p;
        const bt_unit *found = unit_for(channel, unit);
        if (found) {
            p.unit = found->label;
            return p;
        }
        if (*unit && bt_unit_find(unit, strlen(unit), BT_DIM_ANY)) continue; /* something else */
        if (*unit == '\0' &&
            (channel == TIME || channel == BT_CH_LATITUDE || channel == BT_CH_LONGITUDE))
            return p; /* hardly ever in anything but their first unit, or told by their form */
        const bt_unit *behind = *unit ? NULL : unit_for(channel, last_word(name));
        p.sure *= behind ? 0.85 : 0.7;
        if (behind) {
            p.unit = behind->label;
            p.doubt = "is that the unit?";
            return p;
        }
        p.doubt = *unit ? "the unit is not known here: put the right one"
                        : "no unit is stated: put it here";
        return p;
    }
    return none;
}
