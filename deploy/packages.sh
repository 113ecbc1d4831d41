# Finds what the other scripts need, and installs it with this machine's package manager.
# To be sourced by bash.

# The oldest PostgreSQL that Leverbook runs on; crates/local-postgres holds the same number.
readonly oldest_postgres=15

fail() {
    echo "$1" >&2
    exit 1
}

# As root: directly, or by way of sudo.
as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    elif command -v sudo >/dev/null; then
        sudo "$@"
    else
        fail "Installing packages needs root, and there is no sudo: run as root \"$*\", then start this again."
    fi
}

package_manager() {
    local manager
    for manager in apt-get dnf pacman apk zypper brew; do
        if command -v "$manager" >/dev/null; then
            echo "$manager"
            return
        fi
    done
}

package_lists_are_fresh=
# install_packages MANAGER NAME…: installs packages under the names that MANAGER has for them.
install_packages() {
    local manager=$1
    shift
    echo "Installing $* with $manager" >&2
    case $manager in
    apt-get)
        if [ -z "$package_lists_are_fresh" ]; then
            as_root apt-get update -q
            package_lists_are_fresh=yes
        fi
        as_root env DEBIAN_FRONTEND=noninteractive \
            apt-get install -q -y --no-install-recommends "$@" </dev/null
        ;;
    dnf) as_root dnf install -y "$@" ;;
    pacman) as_root pacman -Sy --noconfirm --needed "$@" ;;
    apk) as_root apk add "$@" ;;
    zypper) as_root zypper --non-interactive install "$@" ;;
    brew) brew install "$@" ;;
    esac >&2
}

have_postgres() {
    local folder said major
    for folder in ${PATH//:/ } "$(pg_config --bindir 2>/dev/null || true)" \
        /usr/lib/postgresql/*/bin /usr/pgsql-*/bin /usr/libexec/postgresql* \
        /opt/homebrew/opt/postgresql*/bin /usr/local/opt/postgresql*/bin \
        /home/linuxbrew/.linuxbrew/opt/postgresql*/bin /usr/lib/postgresql*/bin \
        /usr/local/pgsql/bin; do
        if ! { [ -x "$folder/initdb" ] && [ -x "$folder/postgres" ] && [ -x "$folder/psql" ]; }; then
            continue
        fi
        said=$("$folder/postgres" --version 2>/dev/null) || continue
        major=${said#*(PostgreSQL) }
        major=${major%%[!0-9]*}
        if [ -n "$major" ] && [ "$major" -ge "$oldest_postgres" ]; then
            return 0
        fi
    done
    return 1
}

# Makes sure that there are PostgreSQL's programs; never makes or starts a cluster of the system.
need_postgres() {
    ! have_postgres || return 0
    local manager settings
    manager=$(package_manager)
    case $manager in
    apt-get)
        # Debian makes and starts a cluster as it installs the package, unless told not to.
        settings=/etc/postgresql-common/createcluster.d/leverbook.conf
        as_root mkdir -p "${settings%/*}"
        echo 'create_main_cluster = false' | as_root tee "$settings" >/dev/null
        install_packages "$manager" postgresql || true
        as_root rm -f "$settings"
        ;;
    dnf) install_packages "$manager" postgresql-server || true ;;
    apk) install_packages "$manager" postgresql postgresql-client || true ;;
    zypper) install_packages "$manager" postgresql postgresql-server || true ;;
    pacman) install_packages "$manager" postgresql || true ;;
    brew) install_packages "$manager" postgresql@17 || true ;;
    esac
    have_postgres ||
        fail "PostgreSQL $oldest_postgres or newer is missing and could not be installed from this machine's packages: install it (https://www.postgresql.org/download/), or set DATABASE_URL to a server that has it, then start this again."
}

need_cargo() {
    if ! command -v cargo >/dev/null && [ -x "$HOME/.cargo/bin/cargo" ]; then
        PATH=$HOME/.cargo/bin:$PATH
    fi
    command -v cargo >/dev/null ||
        fail "Rust's cargo is missing: install a Rust toolchain (https://rustup.rs), then start this again."
}

# Rust links its programs with the C compiler.
need_c_compiler() {
    ! command -v cc >/dev/null || return 0
    local manager
    manager=$(package_manager)
    case $manager in
    apt-get) install_packages "$manager" gcc libc6-dev || true ;;
    apk) install_packages "$manager" gcc musl-dev || true ;;
    dnf | pacman | zypper) install_packages "$manager" gcc || true ;;
    esac
    command -v cc >/dev/null ||
        fail "A C compiler (cc) is missing, which Rust needs for linking: install gcc or clang, then start this again."
}

need_node() {
    ! { command -v node && command -v npm; } >/dev/null || return 0
    local manager
    manager=$(package_manager)
    case $manager in
    brew) install_packages "$manager" node || true ;;
    ?*) install_packages "$manager" nodejs npm || true ;;
    esac
    { command -v node && command -v npm; } >/dev/null ||
        fail "Node.js with npm is missing, which the browser tests run on: install it, then start this again."
}

need_chromium() {
    ! command -v chromium >/dev/null || return 0
    local manager
    manager=$(package_manager)
    case $manager in
    ?*) install_packages "$manager" chromium || true ;;
    esac
    command -v chromium >/dev/null ||
        fail "Chromium is missing, which the browser tests drive: install it, then start this again."
}
