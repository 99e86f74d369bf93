/* The draft of a channel map (`inspect --draft`): what serves already, what the columns' names and units
 * suggest, best first.  What is unsure stands behind a # and is read back as nothing until the user
 * takes the # away. */
#include "samples/channels.h"
#include "inspect/propose.h"
#include "base/print.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    bt_write_fn write;
    void *user;
    bt_error *err;
} sink;

static bt_status put(const sink *out, const char *text)
{
    return out->write(out->user, text, strlen(text), out->err);
}

/* RFC 4180 quoting where needed. */
static bt_status put_cell(const sink *out, const char *text)
{
    if (!strpbrk(text, ",;\t\"\r\n")) return put(out, text);
    BT_TRY(put(out, "\""));
    for (const char *p = text; *p;) {
        const size_t n = strcspn(p, "\"");
        BT_TRY(out->write(out->user, p, n, out->err));
        p += n;
        if (*p == '"') {
            BT_TRY(put(out, "\"\""));
            p++;
        }
    }
    return put(out, "\"");
}

/* The header's text, unless it stands twice, was cut, or would be read as something else. */
static bt_status put_column(const sink *out, const bt_inspection *in, size_t index)
{
    const char *name = in->columns[index].name;
    bool plain = *name && !strchr("#=+-@'", *name) && strlen(name) + 1 < sizeof in->columns->name;
    for (size_t i = 0; i < in->n_columns && plain; i++)
        plain = i == index || !bt_name_alike(in->columns[i].name, name);
    if (plain) return put_cell(out, name);
    char number[32];
    bt_print(number, sizeof number, "#%.0f", in->columns[index].column);
    return put(out, number);
}

/* Is another column at least as good for the channel? */
static bool rivalled(const bt_inspection *in, size_t index, const char **who)
{
    const bt_inspect_column *mine = &in->columns[index];
    for (size_t i = 0; i < in->n_columns; i++) {
        const bt_inspect_column *other = &in->columns[i];
        *who = other->name;
        if (i == index) continue;
        if (strcmp(other->channel, mine->proposed) == 0) return true;
        if (!*other->channel && strcmp(other->proposed, mine->proposed) == 0 &&
            other->sure >= mine->sure)
            return true;
    }
    return false;
}

/* `channel` is what the column serves, "" = nothing yet: what it is proposed for. */
static bt_status put_row(const sink *out, const bt_inspection *in, size_t index,
                         const char *channel)
{
    const bt_inspect_column *c = &in->columns[index];
    const bt_proposal p = bt_propose(c->name, c->unit);
    const bool served = *channel != '\0';
    const char *rival = "";
    const bool second = !served && rivalled(in, index, &rival);
    const bool odd = strstr(c->remark, "dead") || strstr(c->remark, "rolling freely") ||
                     strstr(c->remark, "never differs");
    const bool active = served || (c->sure >= BT_SURE_ENOUGH && !second && !odd);

    char note[BT_NAME_MAX + 480];
    int at = 0;
    const int cap = (int)sizeof note;
    if (!served) at = bt_print(note, sizeof note, "sure %.0f %%", 100 * c->sure);
    if (!served && *p.doubt) at += snprintf(note + at, (size_t)(cap - at), "; %s", p.doubt);
    if (second) at += snprintf(note + at, (size_t)(cap - at), "; or '%s'?", rival);
    if (*c->remark)
        at += snprintf(note + at, (size_t)(cap - at), "%s%s", at ? "; " : "", c->remark);
    note[at] = '\0';

    BT_TRY(put(out, active ? "" : "#"));
    BT_TRY(put(out, served ? channel : c->proposed));
    BT_TRY(put(out, ","));
    BT_TRY(put_column(out, in, index));
    BT_TRY(put(out, ","));
    BT_TRY(put_cell(out, *c->unit && !*p.unit ? c->unit : p.unit));
    BT_TRY(put(out, ",,,,"));
    BT_TRY(put_cell(out, note));
    return put(out, "\n");
}

bt_status bt_inspect_draft(const bt_inspection *in, bt_write_fn write, void *user, bt_error *err)
{
    const sink out = {write, user, err};
    BT_TRY(put(&out, "channel,column,unit,scale,offset,tolerance,note\n"));
    for (size_t i = 0; i < in->n_columns; i++) {
        const bt_inspect_column *c = &in->columns[i];
        if (!*c->channel && *c->proposed) BT_TRY(put_row(&out, in, i, ""));
        for (const char *p = c->channel; *p;) { /* one column may serve several */
            char channel[sizeof c->channel];
            const size_t n = strcspn(p, " ");
            snprintf(channel, sizeof channel, "%.*s", (int)n, p);
            BT_TRY(put_row(&out, in, i, channel));
            p += n + (p[n] == ' ');
        }
    }
    return BT_OK;
}
