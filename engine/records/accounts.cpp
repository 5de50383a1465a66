#include <fmt/format.h>
#include <sodium.h>

#include <algorithm>
#include <array>

#include "engine/files/bytes.hpp"
#include "engine/records/store_core.hpp"

namespace records {

namespace {

constexpr std::size_t kMostLoginBytes = 64;

void need_login(const std::string& login) {
    const bool plain = std::all_of(login.begin(), login.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' || c == '_' ||
               c == '-';
    });
    if (login.empty() || login.size() > kMostLoginBytes || !plain)
        throw RecordsError(Fault::bad_input, "login", "\"" + login + "\"", "1 to 64 letters, digits and ._-");
}

std::string hash_of(const std::string& passphrase, const PassphraseRules& rules) {
    if (passphrase.size() < rules.least_bytes || passphrase.size() > rules.most_bytes)
        throw RecordsError(Fault::bad_input, "pass phrase", fmt::format("{} bytes", passphrase.size()),
                           fmt::format("{} to {} bytes", rules.least_bytes, rules.most_bytes));
    if (sodium_init() < 0) throw RecordsError(Fault::database, "libsodium", "the system gives no randomness");
    std::array<char, crypto_pwhash_STRBYTES> text{};
    if (crypto_pwhash_str_alg(text.data(), passphrase.data(), passphrase.size(), rules.operations, rules.memory_bytes,
                              crypto_pwhash_ALG_ARGON2ID13) != 0)
        throw RecordsError(Fault::database, "pass phrase",
                           fmt::format("no {} bytes of memory to hash it", rules.memory_bytes));
    return text.data();
}

bool holds(const std::string& hash, const std::string& passphrase) {
    return sodium_init() >= 0 && hash.size() < crypto_pwhash_STRBYTES &&
           crypto_pwhash_str_verify(hash.c_str(), passphrase.data(), passphrase.size()) == 0;
}

/// Wait after so many wrong tries in a row; 0: none.
std::int64_t wait_after(std::int64_t wrong_tries, const LockoutRules& rules) {
    if (wrong_tries < rules.free_tries) return 0;
    std::int64_t wait_s = rules.first_wait_s;
    for (std::int64_t i = rules.free_tries; i < wrong_tries && wait_s < rules.longest_wait_s; ++i)
        wait_s *= rules.growth;
    return std::min(wait_s, rules.longest_wait_s);
}

Account account_of(const Row& row) {
    Account out;
    out.id = text_of(row[0], "accounts.id");
    out.login = text_of(row[1], "accounts.login");
    out.role = role_named(text_of(row[2], "accounts.role"));
    if (!std::holds_alternative<std::monostate>(row[3])) out.learner_id = text_of(row[3], "accounts.learner_id");
    out.wrong_tries = integer_of(row[4], "accounts.wrong_tries");
    out.locked_until_s = integer_of(row[5], "accounts.locked_until");
    out.added_at = text_of(row[6], "accounts.added_at");
    return out;
}

constexpr const char* kColumns =
    "SELECT id, login, role, learner_id, wrong_tries, locked_until, added_at FROM accounts";

Account account_named(StoreCore& core, const std::string& login) {
    const Rows rows = core.run(std::string(kColumns) + " WHERE login = $1", {login});
    if (rows.empty()) throw RecordsError(Fault::not_found, "account", "there is none of this login");
    return account_of(rows[0]);
}

[[noreturn]] void refuse_log_in() {
    throw RecordsError(Fault::denied, "log in", "login or pass phrase is wrong", "those of an account");
}

}  // namespace

std::string Store::add_account(const Actor& actor, const std::string& login, Role role, const std::string& learner_id,
                               const std::string& passphrase) {
    need_role(actor, Role::lead, "add an account");
    need_login(login);
    if ((role == Role::learner) == learner_id.empty())
        throw RecordsError(Fault::bad_input, "account",
                           role == Role::learner ? "a learner's without a learner" : "a learner for another role",
                           "a learner for a learner's account, and for no other");
    const std::string hash = hash_of(passphrase, core_->options().passphrase), id = new_id();
    core_->write([&] {
        if (!core_->run("SELECT id FROM accounts WHERE login = $1", {login}).empty())
            throw RecordsError(Fault::conflict, "login " + login, "it is taken", "another login");
        if (!learner_id.empty() && core_->run("SELECT id FROM learners WHERE id = $1", {learner_id}).empty())
            throw RecordsError(Fault::not_found, "learner " + learner_id, "there is none of this id");
        const Value whose = learner_id.empty() ? Value{} : Value{learner_id};
        core_->run(
            "INSERT INTO accounts (id, login, role, learner_id, pass_hash, wrong_tries, locked_until, added_at) "
            "VALUES ($1, $2, $3, $4, $5, 0, 0, $6)",
            {id, login, std::string(name_of(role)), whose, hash, core_->now()});
        core_->note(actor, "account added", id, std::string(name_of(role)));
    });
    return id;
}

std::vector<Account> Store::accounts(const Actor& actor) {
    need_role(actor, Role::lead, "list accounts");
    std::vector<Account> out;
    core_->read([&] {
        out.clear();
        for (const Row& row : core_->run(std::string(kColumns) + " ORDER BY login")) out.push_back(account_of(row));
    });
    return out;
}

Actor Store::log_in(const std::string& login, const std::string& passphrase) {
    Account account;
    std::string hash;
    bool locked = false;
    // the try counts as wrong before it is looked at, so that many at once are no way round the lock
    core_->write([&] {
        account = {};
        const Rows rows = core_->run(std::string(kColumns) + " WHERE login = $1", {login});
        if (rows.empty()) return;
        account = account_of(rows[0]);
        locked = account.locked_until_s > core_->now_s();
        if (locked) return;
        hash = text_of(core_->run("SELECT pass_hash FROM accounts WHERE id = $1", {account.id})[0][0],
                       "accounts.pass_hash");
        const std::int64_t tries = account.wrong_tries + 1, wait_s = wait_after(tries, core_->options().lockout);
        core_->run("UPDATE accounts SET wrong_tries = $2, locked_until = $3 WHERE id = $1",
                   {account.id, tries, wait_s > 0 ? core_->now_s() + wait_s : std::int64_t{0}});
    });
    if (account.id.empty()) {
        // as much work as for a login that exists; nothing of what was typed is kept: it may be a pass phrase
        const PassphraseRules& rules = core_->options().passphrase;
        static_cast<void>(hash_of(std::string(rules.least_bytes, 'x'), rules));
        refuse_log_in();
    }
    if (locked)
        throw RecordsError(
            Fault::locked_out, "log in",
            fmt::format("{} wrong tries; wait {} s", account.wrong_tries, account.locked_until_s - core_->now_s()),
            "a try after the wait");
    const Actor actor{account.id, account.role, account.learner_id};
    if (!holds(hash, passphrase)) {
        core_->write([&] {
            core_->note(actor, "wrong pass phrase", account.id, fmt::format("try {}", account.wrong_tries + 1));
        });
        refuse_log_in();
    }
    core_->write([&] {
        core_->run("UPDATE accounts SET wrong_tries = 0, locked_until = 0 WHERE id = $1", {account.id});
        core_->note(actor, "logged in", account.id);
    });
    return actor;
}

void Store::set_passphrase(const Actor& actor, const std::string& login, const std::string& passphrase) {
    const std::string hash = hash_of(passphrase, core_->options().passphrase);
    core_->write([&] {
        const Rows rows = core_->run(std::string(kColumns) + " WHERE login = $1", {login});
        if (rows.empty() || account_of(rows[0]).id != actor.account_id)
            need_role(actor, Role::lead, "set another's pass phrase");
        const Account account = account_named(*core_, login);
        core_->run("UPDATE accounts SET pass_hash = $2, wrong_tries = 0, locked_until = 0 WHERE id = $1",
                   {account.id, hash});
        core_->note(actor, "pass phrase set", account.id);
    });
}

void Store::unlock(const Actor& actor, const std::string& login) {
    need_role(actor, Role::lead, "unlock an account");
    core_->write([&] {
        const Account account = account_named(*core_, login);
        core_->run("UPDATE accounts SET wrong_tries = 0, locked_until = 0 WHERE id = $1", {account.id});
        core_->note(actor, "account unlocked", account.id);
    });
}

void Store::set_role(const Actor& actor, const std::string& login, Role role) {
    need_role(actor, Role::lead, "set a role");
    core_->write([&] {
        const Account account = account_named(*core_, login);
        if (role == Role::learner || account.role == Role::learner)
            throw RecordsError(Fault::bad_input, "role", fmt::format("{} to {}", name_of(account.role), name_of(role)),
                               "between instructor and lead; a learner's account is made anew");
        core_->run("UPDATE accounts SET role = $2 WHERE id = $1", {account.id, std::string(name_of(role))});
        core_->note(actor, "role set", account.id, fmt::format("{} to {}", name_of(account.role), name_of(role)));
    });
}

void Store::remove_account(const Actor& actor, const std::string& login) {
    need_role(actor, Role::lead, "remove an account");
    core_->write([&] {
        const Account account = account_named(*core_, login);
        core_->run("DELETE FROM accounts WHERE id = $1", {account.id});
        core_->note(actor, "account removed", account.id, std::string(name_of(account.role)));
    });
}

}  // namespace records
