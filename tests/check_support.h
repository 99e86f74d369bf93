/* What every Check program here shares: the runner.  A test file includes this,
 * writes `static Suite *suite(void)` and ends with `BT_CHECK_MAIN(suite)`. */
#ifndef BT_CHECK_SUPPORT_H
#define BT_CHECK_SUPPORT_H

#include <check.h>
#include <stdlib.h>

#define BT_CHECK_MAIN(suite_function)                                                              \
    int main(void)                                                                                 \
    {                                                                                              \
        SRunner *runner = srunner_create(suite_function());                                        \
        srunner_run_all(runner, CK_ENV);                                                           \
        const int failed = srunner_ntests_failed(runner);                                          \
        srunner_free(runner);                                                                      \
        return failed ? EXIT_FAILURE : EXIT_SUCCESS;                                               \
    }

#endif
