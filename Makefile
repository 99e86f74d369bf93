# braketally: everything that is made lands under $(BUILD).  See DEVELOPERS.md.
CC       ?= cc
AR       ?= ar
CFLAGS   ?= -O3 -g
PREFIX   ?= /usr/local
BUILD    ?= build
T        ?= 60
# On a busy machine a test takes longer, and under a sanitizer.
export CK_TIMEOUT_MULTIPLIER ?= 10

VERSION := $(shell sed -n 's/^\#define BT_VERSION  *"\(.*\)"/\1/p' lib/braketally.h)
MAJOR   := $(shell sed -n 's/^\#define BT_VERSION_MAJOR  *//p' lib/braketally.h)
MINOR   := $(shell sed -n 's/^\#define BT_VERSION_MINOR  *//p' lib/braketally.h)

WARN    := -Wall -Wextra -Wconversion -Wshadow -Wvla
# Only what braketally.h declares is visible from outside; where the sources lie leaves no trace.
FORM    := -fPIC -fvisibility=hidden -ffile-prefix-map=$(CURDIR)=.
COMPILE  = $(CC) -std=c11 -D_POSIX_C_SOURCE=200809L -Ilib -I. $(WARN) $(FORM) $(CPPFLAGS) $(CFLAGS) -pthread
LIBS    := -lcsv -lz -lm -pthread

LIB_SRC   := $(sort $(wildcard lib/*/*.c))
CLI_SRC   := $(sort $(wildcard cli/*.c))
PLANT_SRC := $(sort $(wildcard tests/plant/*.c))
CHECK_SRC := $(wildcard tests/check_*.c)
ACC_SRC   := $(wildcard tests/accuracy/*.c)

obj        = $(patsubst %.c,$(BUILD)/%.o,$(1))
LIB_OBJ   := $(call obj,$(LIB_SRC))
CLI_OBJ   := $(call obj,$(CLI_SRC))
PLANT_OBJ := $(call obj,$(PLANT_SRC))
CHECKS    := $(patsubst tests/%.c,$(BUILD)/tests/%,$(CHECK_SRC))
PLANT_LIB := $(call obj,$(filter-out tests/plant/main.c,$(PLANT_SRC)))
OBJ       := $(LIB_OBJ) $(CLI_OBJ) $(PLANT_OBJ) $(call obj,$(CHECK_SRC) $(ACC_SRC) $(wildcard tests/fuzz/*.c))

STATIC := $(BUILD)/libbraketally.a
SHARED := $(BUILD)/libbraketally.so.$(VERSION)
# While the major version is 0 a minor one may change the ABI.
SONAME := libbraketally.so.$(if $(filter 0,$(MAJOR)),0.$(MINOR),$(MAJOR))

.PHONY: all deps test reference accuracy sanitize coverage tsan valgrind bench demo lint format install uninstall \
        completions dist package-check reproducible-check spreadsheet-check replay fuzz fuzz-afl page-check clean
all: $(BUILD)/braketally $(STATIC) $(SHARED) $(BUILD)/braketally.pc

$(BUILD)/%.o: %.c
	@mkdir -p $(@D)
	$(COMPILE) -MMD -MP -c -o $@ $<

$(STATIC): $(LIB_OBJ)
	@rm -f $@
	$(AR) rcsD $@ $^

$(SHARED): $(LIB_OBJ)
	$(CC) $(CFLAGS) $(LDFLAGS) -shared -Wl,-soname,$(SONAME) -o $@ $^ $(LIBS) $(LDLIBS)
	ln -sf $(notdir $@) $(BUILD)/$(SONAME)
	ln -sf $(SONAME) $(BUILD)/libbraketally.so

$(BUILD)/braketally: $(CLI_OBJ) $(STATIC)
	$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $(CLI_OBJ) $(STATIC) $(LIBS) $(LDLIBS)

$(BUILD)/plant: $(PLANT_OBJ)
	$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $^ -lz -lm $(LDLIBS)

$(BUILD)/tests/check_%: $(BUILD)/tests/check_%.o $(STATIC) $(PLANT_LIB)
	$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $^ -lcheck -lsubunit -lrt $(LIBS) $(LDLIBS)

# The library's own calls, so that the tests can let each of them fail.
$(BUILD)/tests/check_faults: LDFLAGS += -Wl,--wrap=malloc,--wrap=calloc,--wrap=realloc,--wrap=strdup
$(BUILD)/tests/check_system: LDFLAGS += -Wl,--wrap=read,--wrap=open,--wrap=pthread_create

$(BUILD)/tests/accuracy/%: $(BUILD)/tests/accuracy/%.o $(STATIC) $(PLANT_LIB)
	$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS) $(LDLIBS)

# ---- dependencies (Debian's packages) ----
DEPS := gcc make pkg-config libcsv-dev zlib1g-dev check libsubunit-dev python3-scipy gzip jq sqlite3 \
        clang clang-tidy clang-format cppcheck shellcheck mandoc valgrind libclang-rt-14-dev
SUDO := $(shell [ "$$(id -u)" = 0 ] || echo sudo)
deps:
	@missing=; for p in $(DEPS); do \
	    [ "$$(dpkg-query -W -f='$${db:Status-Status}' $$p 2>/dev/null)" = installed ] || missing="$$missing $$p"; \
	done; \
	if [ -n "$$missing" ]; then \
	    $(SUDO) apt-get update -q && DEBIAN_FRONTEND=noninteractive \
	        $(SUDO) apt-get install -y -q --no-install-recommends $$missing; \
	fi

# ---- tests ----
test: all $(BUILD)/plant $(CHECKS) replay
	@failed=0; for c in $(CHECKS); do $$c || failed=1; done; \
	BRAKETALLY=$(BUILD)/braketally PLANT=$(BUILD)/plant sh tests/cli/run.sh || failed=1; \
	BRAKETALLY=$(BUILD)/braketally sh tests/cli/readme.sh || failed=1; \
	sh tests/cli/locale.sh $(BUILD)/braketally || failed=1; \
	BRAKETALLY=$(BUILD)/braketally sh tests/cli/recipes.sh || failed=1; \
	$(PACKAGE_CHECK) || failed=1; exit $$failed

reference: all $(BUILD)/tests/check_reference $(BUILD)/tests/check_reference_car \
           $(BUILD)/tests/check_reference_numbers
	sh tests/reference/table.sh $(BUILD)
	/usr/bin/python3 tests/reference/second_opinion.py $(BUILD)/braketally

accuracy: $(patsubst tests/%.c,$(BUILD)/tests/%,$(ACC_SRC))
	@failed=0; for c in $^; do echo "== $${c##*/}"; $$c || failed=1; done; exit $$failed

sanitize:
	$(MAKE) BUILD=$(BUILD)/asan \
	    CFLAGS='-O1 -g -fno-omit-frame-pointer -fsanitize=address,undefined,float-cast-overflow -fno-sanitize-recover=all' test

# Here it does not matter that libgcov complains where a test fills the disk.
coverage:
	@find $(BUILD)/coverage -name '*.gcda' -delete 2>/dev/null || true
	-$(MAKE) BUILD=$(BUILD)/coverage CFLAGS='-O0 -g --coverage' test
	sh tests/coverage.sh $(BUILD)/coverage

# What runs on more than one thread: a log read ahead, stages on threads of their own, several logs.
TSAN := $(BUILD)/tsan
tsan:
	$(MAKE) BUILD=$(TSAN) CFLAGS='-O1 -g -fsanitize=thread' \
	    $(TSAN)/braketally $(patsubst %,$(TSAN)/tests/check_%,threads system feed)
	for c in threads system feed; do $(TSAN)/tests/check_$$c || exit 1; done
	for j in '' '-j 2' '-j 8'; do for w in zones report drift; do \
	    $(TSAN)/braketally $$w -q $$j -c $(DEMO)/car.csv -m $(DEMO)/map.csv $(DEMO)/saltmarsh_*.csv.gz \
	        > /dev/null || exit 1; done; \
	    $(TSAN)/braketally trace -q $$j -c $(DEMO)/car.csv -m $(DEMO)/map.csv $(DEMO)/saltmarsh_run1.csv.gz \
	        > /dev/null || exit 1; done

# Memory errors and leaks, in the Check programs and where the whole program refuses or fails.
valgrind: $(CHECKS) $(BUILD)/braketally
	for c in $(CHECKS); do CK_FORK=no valgrind -q --leak-check=full --error-exitcode=1 $$c || exit 1; done
	@mkdir -p $(BUILD)/valgrind
	@printf '%s\n' '#!/bin/sh' 'exec valgrind -q --leak-check=full --error-exitcode=99 $(abspath $(BUILD))/braketally "$$@"' \
	    > $(BUILD)/valgrind/braketally && chmod +x $(BUILD)/valgrind/braketally
	BRAKETALLY=$(BUILD)/valgrind/braketally sh tests/cli/run.sh tests/cli/faults.cases tests/cli/usage.cases

# ---- fuzzing: saved cases replay in `make test`, `make fuzz T=60` looks for more ----
# It goes on from corpus.tar.gz, what earlier fuzzing found ways to, made smaller by -merge=1.
FUZZ_SRC  := $(filter-out tests/fuzz/replay.c,$(wildcard tests/fuzz/*.c))
FUZZ      := $(patsubst tests/fuzz/%.c,%,$(FUZZ_SRC))
REPLAYS   := $(patsubst %,$(BUILD)/tests/fuzz/%,$(FUZZ))
$(BUILD)/tests/fuzz/%: $(BUILD)/tests/fuzz/%.o $(BUILD)/tests/fuzz/replay.o $(STATIC)
	$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS) $(LDLIBS)
# The lanes have to be equal on any bytes: they get the most of chance.
replay: $(REPLAYS)
	@for f in $(FUZZ); do $(BUILD)/tests/fuzz/$$f tests/fuzz/$$f/* && \
	    $(BUILD)/tests/fuzz/$$f --random $$([ $$f = lanes ] && echo 20000 || echo 2000) || exit 1; done
fuzz:
	$(MAKE) BUILD=$(BUILD)/fuzz CC=clang \
	    CFLAGS='-O1 -g -fsanitize=fuzzer-no-link,address,undefined,float-cast-overflow -fno-sanitize-recover=all' $(BUILD)/fuzz/libbraketally.a
	@mkdir -p $(BUILD)/fuzz/bin $(BUILD)/fuzz/found
	@tar -xzf tests/fuzz/corpus.tar.gz -C $(BUILD)/fuzz/found
	@for f in $(FUZZ); do \
	    clang -std=c11 -D_POSIX_C_SOURCE=200809L -Ilib -I. -O1 -g -fsanitize=fuzzer,address,undefined \
	        -o $(BUILD)/fuzz/bin/$$f tests/fuzz/$$f.c $(BUILD)/fuzz/libbraketally.a $(LIBS) && \
	    mkdir -p $(BUILD)/fuzz/found/$$f && \
	    $(BUILD)/fuzz/bin/$$f -max_total_time=$(T) -artifact_prefix=$(BUILD)/fuzz/found/$$f/ \
	        $(BUILD)/fuzz/found/$$f tests/fuzz/$$f || exit 1; done

# The same targets under AFL++ (Debian's afl++), one after the other.
fuzz-afl: export AFL_USE_ASAN := 1
fuzz-afl: export AFL_USE_UBSAN := 1
fuzz-afl: export AFL_NO_UI := 1
fuzz-afl: export AFL_SKIP_CPUFREQ := 1
fuzz-afl: export AFL_I_DONT_CARE_ABOUT_MISSING_CRASHES := 1
fuzz-afl: export AFL_AUTORESUME := 1
fuzz-afl:
	$(MAKE) BUILD=$(BUILD)/afl CC=afl-clang-fast CFLAGS='-O1 -g -fno-sanitize-recover=all' \
	    $(BUILD)/afl/libbraketally.a
	@mkdir -p $(BUILD)/afl/bin $(BUILD)/afl/found
	@for f in $(FUZZ); do \
	    afl-clang-fast -std=c11 -D_POSIX_C_SOURCE=200809L -Ilib -I. -O1 -g -fsanitize=fuzzer \
	        -o $(BUILD)/afl/bin/$$f tests/fuzz/$$f.c $(BUILD)/afl/libbraketally.a $(LIBS) && \
	    afl-fuzz -t 5000 -m none -V $(T) -i tests/fuzz/$$f -o $(BUILD)/afl/found/$$f -- $(BUILD)/afl/bin/$$f \
	        > $(BUILD)/afl/$$f.log || exit 1; \
	    grep -E 'execs_done|saved_crashes|saved_hangs|edges_found' $(BUILD)/afl/found/$$f/default/fuzzer_stats; done

# ---- the demo day ----
DEMO := testdata/demo
demo: all
	@mkdir -p $(BUILD)/demo
	@echo "The day sheet of the demo day (Saltmarsh, the Tern, five runs and a sheet of stops):"
	$(BUILD)/braketally runs -f text -c $(DEMO)/car.csv -m $(DEMO)/map.csv -j 2 $(DEMO)/*.csv.gz
	@echo; echo "The braking zones of the first run:"
	$(BUILD)/braketally zones -f text -c $(DEMO)/car.csv -m $(DEMO)/map.csv $(DEMO)/saltmarsh_run1.csv.gz
	@for t in runs zones events; do \
	    $(BUILD)/braketally $$t -q -f csv -c $(DEMO)/car.csv -m $(DEMO)/map.csv -j 2 \
	        -o $(BUILD)/demo/$$t.csv $(DEMO)/*.csv.gz || exit 1; \
	done; echo; echo "Written: $(BUILD)/demo/runs.csv zones.csv events.csv"

page-check: all
	sh tests/page/check.sh $(BUILD)

bench: all $(BUILD)/plant
	sh tests/bench/run.sh $(BUILD)

# ---- form ----
SOURCES := $(LIB_SRC) $(CLI_SRC) $(PLANT_SRC) $(CHECK_SRC) $(ACC_SRC) \
           $(wildcard lib/*.h lib/*/*.h cli/*.h tests/*.h tests/*/*.h tests/examples/*.c)
TIDY := $(patsubst %,$(BUILD)/tidy/%.ok,$(LIB_SRC) $(CLI_SRC))
$(BUILD)/tidy/%.ok: % .clang-tidy $(wildcard lib/*.h lib/*/*.h cli/*.h)
	@mkdir -p $(@D)
	clang-tidy --quiet --warnings-as-errors='*' $< -- -std=c11 -D_POSIX_C_SOURCE=200809L -Ilib 2>/dev/null
	@touch $@
lint: $(TIDY)
	sh tests/package/house.sh
	clang-format --dry-run -Werror $(SOURCES)
	cppcheck --quiet --std=c11 --error-exitcode=1 --inline-suppr --enable=warning,portability,performance \
	    -D_POSIX_C_SOURCE=200809L -Ilib lib cli
	mandoc -T lint -W warning man/*.[0-9]
	shellcheck $(wildcard tests/*/*.sh man/*.sh) .ci/run

format:
	clang-format -i $(SOURCES)

# ---- install ----
$(BUILD)/braketally.pc: lib/braketally.h Makefile
	@mkdir -p $(@D)
	printf '%s\n' 'prefix=$(PREFIX)' 'libdir=$${prefix}/lib' 'includedir=$${prefix}/include' '' \
	    'Name: braketally' 'Description: braking zones, blend and balance of by-wire brakes from logs' \
	    'Version: $(VERSION)' 'Libs: -L$${libdir} -lbraketally' \
	    'Libs.private: $(LIBS)' 'Cflags: -I$${includedir}' > $@

completions: $(BUILD)/completion/bash $(BUILD)/completion/zsh
$(BUILD)/completion/%: $(BUILD)/braketally
	@mkdir -p $(@D)
	$< --completion $* > $@

ROOT  := $(DESTDIR)$(PREFIX)
SHARE := $(ROOT)/share
BASH_COMPLETION := $(SHARE)/bash-completion/completions/braketally
ZSH_COMPLETION  := $(SHARE)/zsh/site-functions/_braketally
PAGES := $(foreach m,$(wildcard man/*.[0-9]),$(SHARE)/man/man$(subst .,,$(suffix $(m)))/$(notdir $(m)))
INSTALLED := $(ROOT)/bin/braketally $(ROOT)/include/braketally.h $(ROOT)/lib/pkgconfig/braketally.pc \
             $(ROOT)/lib/libbraketally.a $(ROOT)/lib/$(notdir $(SHARED)) $(ROOT)/lib/$(SONAME) \
             $(ROOT)/lib/libbraketally.so $(BASH_COMPLETION) $(ZSH_COMPLETION) $(PAGES)

install: all completions
	install -d $(sort $(dir $(INSTALLED)))
	install -m 755 $(BUILD)/braketally $(ROOT)/bin/
	install -m 644 $(STATIC) $(SHARED) $(ROOT)/lib/
	ln -sf $(notdir $(SHARED)) $(ROOT)/lib/$(SONAME)
	ln -sf $(SONAME) $(ROOT)/lib/libbraketally.so
	sed 's|^prefix=.*|prefix=$(PREFIX)|' $(BUILD)/braketally.pc > $(ROOT)/lib/pkgconfig/braketally.pc
	install -m 644 lib/braketally.h $(ROOT)/include/
	install -m 644 $(BUILD)/completion/bash $(BASH_COMPLETION)
	install -m 644 $(BUILD)/completion/zsh $(ZSH_COMPLETION)
	for m in man/*.[0-9]; do install -m 644 $$m $(SHARE)/man/man$${m##*.}/ || exit 1; done

uninstall:
	rm -f $(INSTALLED)

# ---- package ----
# The sources as one file, the same bytes whenever and wherever it is made.
NAME := braketally-$(VERSION)
DIST := $(wildcard .ci .clang-format .clang-tidy .gitignore LICENSE Makefile README.md DEVELOPERS.md \
                   cli lib man testdata tests)
dist: $(BUILD)/$(NAME).tar.gz
$(BUILD)/$(NAME).tar.gz: $(shell find $(DIST) -type f)
	@mkdir -p $(@D)
	tar --sort=name --mtime=@$${SOURCE_DATE_EPOCH:-1000000000} --owner=0 --group=0 --numeric-owner \
	    --mode='u=rwX,go=rX' --exclude='*~' --exclude='.*.sw?' --exclude=__pycache__ \
	    --transform='s|^|$(NAME)/|' -cf - $(DIST) | gzip -9n > $@

PACKAGE_CHECK = CC='$(CC)' CFLAGS='$(CFLAGS)' sh tests/package/check.sh $(BUILD)
package-check: all
	$(PACKAGE_CHECK)
reproducible-check: dist
	sh tests/package/reproducible.sh $(BUILD)
spreadsheet-check: all
	sh tests/package/spreadsheet.sh $(BUILD)

clean:
	rm -rf $(BUILD)

-include $(OBJ:.o=.d)
