/* Units: see units.h.  A text is brought into one form first (no blanks, dots, stars, ^; ° is
 * deg; superscripts are digits) and then looked up among the spellings, written in that form. */
#include "base/units.h"

#include "base/error.h"

#include <string.h>

typedef struct {
    bt_unit unit;
    const char *spellings; /* separated by blanks */
} entry;

#define PI      3.14159265358979323846
#define GRAVITY 9.80665            /* m/s2, CGPM 1901 */
#define POUND   0.45359237         /* kg, SP 811 B.8 */
#define FOOT    0.3048             /* m */
#define LBF     (POUND * GRAVITY)  /* N */
#define PSI     6894.757293168362  /* Pa, SP 811 B.8 with more digits */
#define LBF_FT  1.3558179483314004 /* N*m */
#define KMH     (1 / 3.6)          /* m/s */

/* Within a dimension the first is the one a blank unit means where CONTRACT 5 says so. */
static const entry units[] = {
    {{"-", "1", BT_DIM_NONE, 1, 0}, "- 1 none"},

    {{"1", "1", BT_DIM_RATIO, 1, 0}, "1 - ratio"},
    {{"%", "%", BT_DIM_RATIO, 0.01, 0}, "% percent pct"},

    {{"s", "s", BT_DIM_TIME, 1, 0}, "s sec secs second seconds"},
    {{"ms", "ms", BT_DIM_TIME, 1e-3, 0}, "ms msec millisecond milliseconds"},
    {{"\u00b5s", "us", BT_DIM_TIME, 1e-6, 0}, "us usec microsecond microseconds"},
    {{"ns", "ns", BT_DIM_TIME, 1e-9, 0}, "ns nsec nanosecond nanoseconds"},
    {{"min", "min", BT_DIM_TIME, 60, 0}, "min minute minutes"},
    {{"h", "h", BT_DIM_TIME, 3600, 0}, "h hr hour hours"},

    {{"m", "m", BT_DIM_LENGTH, 1, 0}, "m meter metre meters metres"},
    {{"mm", "mm", BT_DIM_LENGTH, 1e-3, 0}, "mm millimeter millimetre millimeters millimetres"},
    {{"cm", "cm", BT_DIM_LENGTH, 1e-2, 0}, "cm centimeter centimetre centimeters centimetres"},
    {{"km", "km", BT_DIM_LENGTH, 1e3, 0}, "km kilometer kilometre kilometers kilometres"},
    {{"in", "[in_i]", BT_DIM_LENGTH, 0.0254, 0}, "in inch inches [ini]"},
    {{"ft", "[ft_i]", BT_DIM_LENGTH, FOOT, 0}, "ft foot feet [fti]"},
    {{"mi", "[mi_i]", BT_DIM_LENGTH, 1609.344, 0}, "mi mile miles [mii]"},

    {{"m\u00b2", "m2", BT_DIM_AREA, 1, 0}, "m2"},
    {{"cm\u00b2", "cm2", BT_DIM_AREA, 1e-4, 0}, "cm2"},
    {{"mm\u00b2", "mm2", BT_DIM_AREA, 1e-6, 0}, "mm2"},

    {{"kg", "kg", BT_DIM_MASS, 1, 0}, "kg kilogram kilograms"},
    {{"g", "g", BT_DIM_MASS, 1e-3, 0}, "g gram grams"},
    {{"lb", "[lb_av]", BT_DIM_MASS, POUND, 0}, "lb lbs lbm [lbav]"},

    {{"m/s", "m/s", BT_DIM_SPEED, 1, 0}, "m/s mps m/sec ms-1 Mps"},
    {{"km/h", "km/h", BT_DIM_SPEED, KMH, 0}, "km/h kmh kph kmph km/hr kmh-1"},
    {{"mph", "[mi_i]/h", BT_DIM_SPEED, 0.44704, 0}, "mph mi/h mile/h miles/h [mii]/h Mph"},
    {{"kn", "[kn_i]", BT_DIM_SPEED, 1852 / 3600.0, 0}, "kn kt kts knot knots [kni]"},
    {{"ft/s", "[ft_i]/s", BT_DIM_SPEED, FOOT, 0}, "ft/s fps ft/sec [fti]/s"},

    {{"rad/s", "rad/s", BT_DIM_ANGULAR_SPEED, 1, 0}, "rad/s radps rad/sec rads-1"},
    {{"rpm", "circ/min", BT_DIM_ANGULAR_SPEED, 2 * PI / 60, 0},
     "rpm rev/min revs/min r/min 1/min min-1 circ/min"},
    {{"Hz", "circ/s", BT_DIM_ANGULAR_SPEED, 2 * PI, 0}, "Hz rev/s rps circ/s"},
    {{"\u00b0/s", "deg/s", BT_DIM_ANGULAR_SPEED, PI / 180, 0},
     "deg/s degps dps deg/sec degree/s degrees/s degs-1"},

    {{"rad", "rad", BT_DIM_ANGLE, 1, 0}, "rad radian radians"},
    {{"\u00b0", "deg", BT_DIM_ANGLE, PI / 180, 0}, "deg degree degrees"},

    {{"g", "[g]", BT_DIM_ACCEL, GRAVITY, 0}, "g [g] gn g0"},
    {{"m/s\u00b2", "m/s2", BT_DIM_ACCEL, 1, 0}, "m/s2 mps2 m/s/s ms-2 m/sec2 Mps2"},
    {{"ft/s\u00b2", "[ft_i]/s2", BT_DIM_ACCEL, FOOT, 0}, "ft/s2 fps2 [fti]/s2"},

    {{"bar", "bar", BT_DIM_PRESSURE, 1e5, 0}, "bar bars"},
    {{"mbar", "mbar", BT_DIM_PRESSURE, 100, 0}, "mbar"},
    {{"kPa", "kPa", BT_DIM_PRESSURE, 1e3, 0}, "kPa"},
    {{"hPa", "hPa", BT_DIM_PRESSURE, 100, 0}, "hPa"},
    {{"MPa", "MPa", BT_DIM_PRESSURE, 1e6, 0}, "MPa"},
    {{"Pa", "Pa", BT_DIM_PRESSURE, 1, 0}, "Pa pascal"},
    {{"psi", "[psi]", BT_DIM_PRESSURE, PSI, 0}, "psi [psi] lbf/in2 lb/in2 [lbfav]/[ini]2"},

    {{"N", "N", BT_DIM_FORCE, 1, 0}, "N newton newtons"},
    {{"kN", "kN", BT_DIM_FORCE, 1e3, 0}, "kN"},
    {{"lbf", "[lbf_av]", BT_DIM_FORCE, LBF, 0}, "lbf [lbfav]"},
    {{"kgf", "kgf", BT_DIM_FORCE, GRAVITY, 0}, "kgf"},

    {{"N\u00b7m", "N.m", BT_DIM_TORQUE, 1, 0}, "Nm newtonmeter newtonmetre"},
    {{"kN\u00b7m", "kN.m", BT_DIM_TORQUE, 1e3, 0}, "kNm"},
    {{"lbf\u00b7ft", "[ft_i].[lbf_av]", BT_DIM_TORQUE, LBF_FT, 0},
     "lbfft ftlbf ftlb ftlbs lbft lbsft [fti][lbfav] [lbfav][fti]"},
    {{"lbf\u00b7in", "[in_i].[lbf_av]", BT_DIM_TORQUE, LBF_FT / 12, 0},
     "lbfin inlbf inlb inlbs lbin [ini][lbfav] [lbfav][ini]"},

    {{"\u00b0C", "Cel", BT_DIM_TEMPERATURE, 1, 273.15}, "degC C Cel celsius degcelsius"},
    {{"K", "K", BT_DIM_TEMPERATURE, 1, 0}, "K kelvin degK"},
    {{"\u00b0F", "[degF]", BT_DIM_TEMPERATURE, 5 / 9.0, 459.67 * 5 / 9},
     "degF F [degF] fahrenheit degfahrenheit"},

    {{"V", "V", BT_DIM_VOLTAGE, 1, 0}, "V volt volts"},
    {{"mV", "mV", BT_DIM_VOLTAGE, 1e-3, 0}, "mV"},
    {{"kV", "kV", BT_DIM_VOLTAGE, 1e3, 0}, "kV"},

    {{"A", "A", BT_DIM_CURRENT, 1, 0}, "A amp amps ampere amperes"},
    {{"mA", "mA", BT_DIM_CURRENT, 1e-3, 0}, "mA"},

    {{"W", "W", BT_DIM_POWER, 1, 0}, "W watt watts"},
    {{"kW", "kW", BT_DIM_POWER, 1e3, 0}, "kW"},
    {{"hp", "[HP]", BT_DIM_POWER, 550 * LBF_FT, 0}, "hp [HP]"},

    {{"J", "J", BT_DIM_ENERGY, 1, 0}, "J joule joules"},
    {{"kJ", "kJ", BT_DIM_ENERGY, 1e3, 0}, "kJ"},
    {{"MJ", "MJ", BT_DIM_ENERGY, 1e6, 0}, "MJ"},
    {{"W\u00b7h", "W.h", BT_DIM_ENERGY, 3600, 0}, "Wh"},
    {{"kW\u00b7h", "kW.h", BT_DIM_ENERGY, 3.6e6, 0}, "kWh"},

    {{"N\u00b7m/bar", "N.m/bar", BT_DIM_TORQUE_PER_PRESSURE, 1e-5, 0}, "Nm/bar"},
    {{"N\u00b7m/kPa", "N.m/kPa", BT_DIM_TORQUE_PER_PRESSURE, 1e-3, 0}, "Nm/kPa"},
    {{"N\u00b7m/MPa", "N.m/MPa", BT_DIM_TORQUE_PER_PRESSURE, 1e-6, 0}, "Nm/MPa"},
    {{"N\u00b7m/Pa", "N.m/Pa", BT_DIM_TORQUE_PER_PRESSURE, 1, 0}, "Nm/Pa"},
    {{"N\u00b7m/psi", "N.m/[psi]", BT_DIM_TORQUE_PER_PRESSURE, 1 / PSI, 0}, "Nm/psi Nm/[psi]"},
    {{"lbf\u00b7ft/psi", "[ft_i].[lbf_av]/[psi]", BT_DIM_TORQUE_PER_PRESSURE, LBF_FT / PSI, 0},
     "lbfft/psi ftlbf/psi ftlb/psi lbft/psi [fti][lbfav]/[psi]"},

    {{"N/(m/s)", "N/(m/s)", BT_DIM_FORCE_PER_SPEED, 1, 0}, "N/(m/s) N/mps Ns/m kg/s"},
    {{"N/(km/h)", "N/(km/h)", BT_DIM_FORCE_PER_SPEED, 3.6, 0}, "N/(km/h) N/kmh N/kph N/kmph Nh/km"},

    {{"N/(m/s)\u00b2", "N/(m2/s2)", BT_DIM_FORCE_PER_SPEED2, 1, 0},
     "N/(m/s)2 N/(m2/s2) Ns2/m2 kg/m"},
    {{"N/(km/h)\u00b2", "N/(km2/h2)", BT_DIM_FORCE_PER_SPEED2, 3.6 * 3.6, 0},
     "N/(km/h)2 N/(km2/h2) N/kmh2 N/kph2 N/kmph2 Nh2/km2"},

    {{"J/kg/K", "J/kg/K", BT_DIM_SPECIFIC_HEAT, 1, 0}, "J/kg/K J/(kgK) J/kgK Jkg-1K-1"},
    {{"kJ/kg/K", "kJ/kg/K", BT_DIM_SPECIFIC_HEAT, 1e3, 0}, "kJ/kg/K kJ/(kgK) kJ/kgK kJkg-1K-1"},

    {{"J/kg/K\u00b2", "J/kg/K2", BT_DIM_SPECIFIC_HEAT_SLOPE, 1, 0},
     "J/kg/K2 J/(kgK2) J/kgK2 J/kg/K/K Jkg-1K-2"},

    {{"W/K", "W/K", BT_DIM_COOLING, 1, 0}, "W/K W/degC WK-1"},

    {{"W/K/(m/s)", "W/K/(m/s)", BT_DIM_COOLING_PER_SPEED, 1, 0},
     "W/K/(m/s) W/(Km/s) W/K/mps Ws/(Km) Ws/K/m W/(K(m/s)) J/K/m J/(Km)"},
    {{"W/K/(km/h)", "W/K/(km/h)", BT_DIM_COOLING_PER_SPEED, 3.6, 0},
     "W/K/(km/h) W/(Kkm/h) W/K/kmh W/K/kph W/(K(km/h)) Wh/K/km"},
};
enum { UNITS = sizeof units / sizeof *units, TEXT_MAX = 48 };

/* What is written differently and means the same; "" = leave it out. */
static const struct {
    const char *from, *to;
} same[] = {
    {" ", ""},       {"\t", ""},        {"\u00a0", ""},    {".", ""},          {"*", ""},
    {"^", ""},       {"_", ""},         {"\u00b7", ""},    {"\u22c5", ""},     {"\u2022", ""},
    {"\u00d7", ""},  {"\u00b9", "1"},   {"\u00b2", "2"},   {"\u00b3", "3"},    {"\u207b", "-"},
    {"\u2212", "-"}, {"\u00b0", "deg"}, {"\u00ba", "deg"}, {"\u2103", "degC"}, {"\u2109", "degF"},
    {"\u00b5", "u"}, {"\u03bc", "u"},
};

/* The one form of a unit's text, in out[TEXT_MAX]; its length, or TEXT_MAX if it is too
 * long for any unit. */
static size_t normal(const char *s, size_t n, char *out)
{
    size_t length = 0;
    while (n > 0) {
        const char *to = NULL;
        size_t taken = 1;
        for (size_t i = 0; !to && i < sizeof same / sizeof *same; i++) {
            const size_t from = strlen(same[i].from);
            if (from <= n && memcmp(s, same[i].from, from) == 0) {
                to = same[i].to;
                taken = from;
            }
        }
        const bool letter_next =
            n > 1 && ((s[1] >= 'a' && s[1] <= 'z') || (s[1] >= 'A' && s[1] <= 'Z'));
        if (!to && *s == '-' && length > 0 && letter_next) to = ""; /* ft-lb, but not s-1 */
        const size_t add = to ? strlen(to) : 1;
        if (length + add >= TEXT_MAX) return TEXT_MAX;
        memcpy(out + length, to ? to : s, add);
        length += add;
        s += taken;
        n -= taken;
    }
    return length;
}

/* Do brackets stand around the whole of s[0..n)? */
static bool bracketed(const char *s, size_t n)
{
    static const char open[] = "[({", close[] = "])}";
    const char *which = n >= 2 && s[0] ? strchr(open, s[0]) : NULL;
    if (!which || s[n - 1] != close[which - open]) return false;
    int depth = 0;
    for (size_t i = 0; i < n - 1; i++) {
        depth += s[i] == s[0] ? 1 : s[i] == s[n - 1] ? -1 : 0;
        if (depth == 0) return false;
    }
    return true;
}

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

/* Letters of either case; but milli and mega at the start are told apart by the case
 * unless the text has one case only and so tells nothing. */
static bool alike(const char *text, const char *spelling, size_t n)
{
    bool has_lower = false, has_upper = false;
    for (size_t i = 0; i < n; i++) {
        if (lower(text[i]) != lower(spelling[i])) return false;
        has_lower = has_lower || (text[i] >= 'a' && text[i] <= 'z');
        has_upper = has_upper || (text[i] >= 'A' && text[i] <= 'Z');
    }
    return n == 0 || lower(text[0]) != 'm' || text[0] == spelling[0] || !(has_lower && has_upper);
}

static bool spelled(const char *spellings, const char *text, size_t n, bool exact)
{
    for (const char *s = spellings; *s;) {
        const size_t len = strcspn(s, " ");
        if (len == n && (exact ? memcmp(s, text, n) == 0 : alike(text, s, n))) return true;
        s += len;
        s += strspn(s, " ");
    }
    return false;
}

static const bt_unit *look_up(const char *text, size_t n, bt_dimension wanted)
{
    for (int exact = 1; exact >= 0; exact--)
        for (size_t i = 0; i < UNITS; i++) {
            const bt_unit *u = &units[i].unit;
            /* A lone g is the gram only where a mass is wanted. */
            const bool gram = u->dimension == BT_DIM_MASS && n == 1;
            if (wanted == BT_DIM_ANY ? gram : u->dimension != wanted) continue;
            if (spelled(units[i].spellings, text, n, exact)) return u;
        }
    return NULL;
}

const bt_unit *bt_unit_find(const char *text, size_t len, bt_dimension wanted)
{
    char form[TEXT_MAX];
    const char *t = form;
    size_t n = normal(text, len, form);
    if (n == TEXT_MAX) return NULL;
    const bt_unit *found = look_up(t, n, wanted);
    while (!found && bracketed(t, n)) {
        t++;
        n -= 2;
        found = look_up(t, n, wanted);
    }
    if (!found && n == 0) found = look_up("-", 1, wanted);
    return found;
}

const char *bt_dimension_name(bt_dimension dimension)
{
    static const char *const names[] = {
#define X(name, meaning) meaning,
        BT_DIMENSION_LIST(X)
#undef X
    };
    return (unsigned)dimension < BT_DIM_COUNT ? names[dimension] : "any unit";
}

const char *bt_unit_labels(bt_dimension dimension, char *buf, size_t cap)
{
    size_t at = 0;
    buf[0] = '\0';
    for (size_t i = 0; i < UNITS; i++) {
        if (units[i].unit.dimension != dimension) continue;
        const char *label = units[i].unit.label;
        const size_t n = strlen(label), comma = at ? 2 : 0;
        if (at + comma + n >= cap) break;
        memcpy(buf + at, ", ", comma);
        memcpy(buf + at + comma, label, n + 1);
        at += comma + n;
    }
    return buf;
}

const char *bt_unit_nearest(const char *text, size_t len, bt_dimension wanted)
{
    char word[TEXT_MAX];
    const char *labels[UNITS];
    size_t n = 0;
    if (len >= sizeof word) return NULL;
    memcpy(word, text, len);
    word[len] = '\0';
    for (size_t i = 0; i < UNITS; i++)
        if (wanted == BT_DIM_ANY || units[i].unit.dimension == wanted)
            labels[n++] = units[i].unit.label;
    return bt_nearest(word, labels, n);
}

static bool separates(char c)
{
    return c == ' ' || c == '_' || c == '-' || c == '\t' || c == ',';
}

/* Length of s without what may stand between a name and its unit. */
static size_t name_end(const char *s, size_t n)
{
    while (n > 0 && (separates(s[n - 1]) || s[n - 1] == '/' || s[n - 1] == ':')) n--;
    return n;
}

/* Where the bracket that closes at s[n-1] opens; n if it does not. */
static size_t bracket_start(const char *s, size_t n)
{
    for (size_t i = n - 1; i-- > 0;)
        if (bracketed(s + i, n - i)) return i;
    return n;
}

/* The unit that s[0..n) spells with its separators taken for `joint` ("/" or nothing); it
 * needs a letter or %, or every number at the end of a name would be one. */
static const bt_unit *unit_joined(const char *s, size_t n, const char *joint)
{
    char text[TEXT_MAX];
    size_t length = 0;
    bool letter = false;
    for (size_t i = 0; i < n; i++) {
        const size_t add = separates(s[i]) ? strlen(joint) : 1;
        if (length + add >= sizeof text) return NULL;
        memcpy(text + length, separates(s[i]) ? joint : s + i, add);
        length += add;
        letter = letter || s[i] == '%' || (lower(s[i]) >= 'a' && lower(s[i]) <= 'z') ||
                 (unsigned char)s[i] >= 0x80;
    }
    return letter ? bt_unit_find(text, length, BT_DIM_ANY) : NULL;
}

/* Start of the last word of s[0..n). */
static size_t word_start(const char *s, size_t n)
{
    while (n > 0 && !separates(s[n - 1])) n--;
    return n;
}

bool bt_unit_in_name(const char *text, size_t len, size_t *name_len, const char **unit,
                     size_t *unit_len)
{
    *name_len = len;
    *unit = "";
    *unit_len = 0;
    if (len < 3) return false;
    const size_t bracket = bracket_start(text, len);
    if (bracket < len && name_end(text, bracket) > 0) {
        *name_len = name_end(text, bracket);
        *unit = text + bracket + 1;
        *unit_len = len - bracket - 2;
        return true;
    }
    /* speed_km_h, disc_fl_deg_c: two words first, or the h and the c would be taken alone */
    const size_t last = word_start(text, len);
    const size_t two = last > 0 ? word_start(text, last - 1) : 0;
    const bt_unit *found = NULL;
    size_t end = name_end(text, two);
    if (end > 0) found = unit_joined(text + two, len - two, "/");
    if (end > 0 && !found) found = unit_joined(text + two, len - two, "");
    if (!found) {
        end = name_end(text, last);
        if (end > 0) found = unit_joined(text + last, len - last, "");
    }
    if (!found) return false;
    *name_len = end;
    *unit = found->label;
    *unit_len = strlen(found->label);
    return true;
}
