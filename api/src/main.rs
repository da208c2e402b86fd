fn main() -> std::process::ExitCode {
    api::main()
}
