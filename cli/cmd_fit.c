/* fit: the car read off its logs or saved zones, as rows of a car sheet; what they cannot tell goes to
 * stderr. */
#include "cli.h"

static int print_rows(cli *c, const bt_fitted *fitted, int status)
{
    bt_writer *w;
    bt_error err = {0};
    const int opened = output_table(c, BT_TABLE_FIT, &w);
    if (opened != 0) return opened;
    for (size_t i = 0; i < fitted->n_rows; i++)
        if (bt_writer_row(w, &fitted->rows[i], &err) != BT_OK) {
            status = say_error(&err, NULL, EXIT_OUTPUT);
            break;
        }
    return output_finish(c, w, status, true);
}

int cmd_fit(cli *c, int n, char **operands)
{
    bt_zones zones = {0};
    bt_fitted fitted = {0};
    bt_error err = {0};
    int status = pool_read(c, n, operands, &zones);
    if (status == EXIT_ALL || zones.n > 0) {
        if (bt_fit_zones(zones.row, zones.n, c->car, &fitted, &err) == BT_OK)
            status = print_rows(c, &fitted, status);
        else
            status = say_error(&err, operands[0], EXIT_LOG);
        for (size_t i = 0; i < fitted.n_notes && !c->quiet; i++) say("%s", fitted.notes[i]);
    }
    bt_fitted_clear(&fitted);
    bt_zones_free(&zones);
    return status;
}
