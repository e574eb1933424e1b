#include "term_tty.h"

/* Colour numbers: 0-7 are the eight of ISO 6429 (parameters 30-37), 8-15 their bright forms,
 * 16-231 the usual 6 x 6 x 6 cube, 232-255 greys; -1 is the terminal's own. */
enum { BLACK = 16, WHITE = 231, FILLED = 0x100 };

struct role {
    short dark, light, either; /* of 256: on black, on white, on a ground that is not known */
    short of_eight;
    unsigned look, mono;
};

static const struct role roles[OXL_INK_COUNT] = {
    [OXL_INK_TEXT] = {253, 234, -1, -1, 0, 0},
    [OXL_INK_DIM] = {248, 240, 244, -1, 0, 0},
    [OXL_INK_TITLE] = {WHITE, BLACK, -1, -1, OXL_LOOK_BOLD, OXL_LOOK_BOLD},
    [OXL_INK_ACTION] = {WHITE, BLACK, -1, -1, OXL_LOOK_BOLD | FILLED,
                        OXL_LOOK_BOLD | OXL_LOOK_REVERSE},
    [OXL_INK_CAUTION] = {220, 94, 136, 3, OXL_LOOK_BOLD, OXL_LOOK_BOLD},
    [OXL_INK_GOOD] = {84, 22, 34, 2, 0, 0},
    [OXL_INK_BAD] = {210, 124, 196, 1, OXL_LOOK_BOLD, OXL_LOOK_BOLD},
    [OXL_INK_FRONT] = {87, 25, 32, 6, OXL_LOOK_BOLD, OXL_LOOK_BOLD},
    [OXL_INK_REAR] = {219, 90, 170, 5, OXL_LOOK_BOLD, OXL_LOOK_BOLD},
    [OXL_INK_TRIM] = {191, 58, 100, 3, OXL_LOOK_BOLD, OXL_LOOK_BOLD},
    [OXL_INK_FRAME] = {250, 238, 244, -1, OXL_LOOK_UNDERLINE, OXL_LOOK_UNDERLINE},
    [OXL_INK_KEY] = {WHITE, BLACK, -1, -1, OXL_LOOK_BOLD, OXL_LOOK_BOLD},
    [OXL_INK_BAND_CAUTION] = {220, 94, 136, 3, OXL_LOOK_BOLD | FILLED,
                              OXL_LOOK_BOLD | OXL_LOOK_REVERSE},
    [OXL_INK_BAND_GOOD] = {84, 22, 34, 2, OXL_LOOK_BOLD | FILLED, OXL_LOOK_BOLD | OXL_LOOK_REVERSE},
    [OXL_INK_BAND_STOP] = {210, 124, 160, 1, OXL_LOOK_BOLD | FILLED,
                           OXL_LOOK_BOLD | OXL_LOOK_REVERSE | OXL_LOOK_UNDERLINE},
};

static struct oxl_paint paint(short colour, short ground, const struct role *r)
{
    bool filled = r->look & FILLED;
    return (struct oxl_paint){filled ? ground : colour, filled ? colour : ground,
                              r->look & ~(unsigned)FILLED};
}

/* The ground is the terminal's own: a band needs letters of a known colour, or reverse. */
static struct oxl_paint paint_on_unknown(short colour, const struct role *r, bool dark_band)
{
    struct oxl_paint p = {colour, -1, r->look & ~(unsigned)FILLED};
    if (!(r->look & FILLED))
        return p;
    if (colour < 0) {
        p.look |= OXL_LOOK_REVERSE;
        return p;
    }
    p.fg = dark_band ? 7 : 0;
    p.bg = colour;
    return p;
}

/* Bold black is drawn grey by terminals that draw bold as bright (common practice, no source). */
static struct oxl_paint paint_of_eight(enum oxl_theme theme, const struct role *r, int colours,
                                       bool stop)
{
    const bool bright = colours >= 16;
    const short white = bright ? 15 : 7, colour = r->of_eight;
    struct oxl_paint p = theme == OXL_THEME_AUTO ? paint_on_unknown(colour, r, stop)
                         : theme == OXL_THEME_LIGHT
                             ? paint((short)(colour < 0 ? 0 : colour), white, r)
                             : paint((short)(colour < 0 ? white : colour + (bright ? 8 : 0)), 0, r);
    if (p.fg == 0)
        p.look &= ~(unsigned)OXL_LOOK_BOLD;
    return p;
}

struct oxl_paint oxl_ink_paint(enum oxl_ink ink, enum oxl_theme theme, int colours)
{
    const struct role *r = &roles[(unsigned)ink < OXL_INK_COUNT ? ink : OXL_INK_TEXT];
    bool stop = ink == OXL_INK_BAND_STOP;
    if (theme == OXL_THEME_MONO || colours < 8)
        return (struct oxl_paint){-1, -1, r->mono};
    if (colours >= 256) {
        if (theme == OXL_THEME_AUTO) {
            struct oxl_paint p = paint_on_unknown(r->either, r, stop);
            if (p.bg >= 0)
                p.fg = stop ? WHITE : BLACK;
            return p;
        }
        return theme == OXL_THEME_LIGHT ? paint(r->light, WHITE, r) : paint(r->dark, BLACK, r);
    }
    return paint_of_eight(theme, r, colours, stop);
}
